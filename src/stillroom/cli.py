"""The command line: parse, call, show. No arithmetic here."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from stillroom.errors import StillroomError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="From a recipe and a process to a defensible judgement: does it keep, what holds it, why.",
)

WRONG_INPUT = 2
RecipePath = Annotated[Path, typer.Argument(help="recipe file (TOML)", metavar="RECIPE")]
AsJson = Annotated[bool, typer.Option("--json", help="print JSON for machines")]
Market = Annotated[str | None, typer.Option(help="US, EU, UK-GB, Codex, Canada or AU-NZ")]
On = Annotated[
    str | None, typer.Option("--on", help="date of placing on the market, such as 2026-07-01")
]


Plot = Annotated[Path | None, typer.Option(help="write the curves as a figure (.svg, .png, .pdf)")]


@contextmanager
def _speaking(about: Path | None = None) -> Iterator[None]:
    """Turn an error for people into one clear message and exit status 2."""
    try:
        yield
    except StillroomError as problem:
        text = str(problem)
        if about is not None and str(about) not in text:
            text = f"{about}: {text}"
        print(f"stillroom: {text}", file=sys.stderr)
        raise typer.Exit(WRONG_INPUT) from None


def _day(text: str | None) -> date | None:
    from stillroom.errors import InputError

    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is not a date; write it like 2026-07-01.") from None


def _say_written(path: Path | None) -> None:
    if path is not None:
        print(f"{path} written.")


def _print_json(value: object) -> None:
    print(json.dumps(value, indent=2, ensure_ascii=False))


@app.command()
def assess(
    recipe: RecipePath,
    as_json: AsJson = False,
    working: Annotated[bool, typer.Option("--working", help="print the worked solution")] = False,
    full: Annotated[bool, typer.Option("--all", help="a line for every organism")] = False,
    market: Market = None,
    on: On = None,
) -> None:
    """Judge a recipe: does it keep, which hurdle holds it, by what margin, what the law calls it.

    Exit status: 0 keeps as declared, 1 does not, 2 wrong input, 3 cannot be judged.
    """
    with _speaking(recipe):
        from stillroom.assess.pipeline import assess as judge
        from stillroom.product.recipe_file import read_recipe

        judged = judge(read_recipe(recipe), market, _day(on))
        if as_json:
            _print_json(judged.to_dict())
        else:
            from rich.console import Console

            from stillroom.report.text import show

            show(Console(), judged, working, full)
    raise typer.Exit(judged.exit_status)


@app.command()
def heat(
    recipe: RecipePath,
    plot: Plot = None,
    find: Annotated[
        bool, typer.Option("--find", help="search the shortest process at other temperatures")
    ] = False,
    at: Annotated[
        list[str] | None,
        typer.Option(help='a temperature to search at, such as "90 degC"; may be given again'),
    ] = None,
    jars: Annotated[
        int | None, typer.Option(min=10, max=100_000, help="scatter so many jars")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show what the heat of a recipe reaches, leaves and costs, and how the pack warms and cools.

    Exit status: 0 every target is met, 1 one is not, 2 wrong input, 3 one may not be.
    """
    with _speaking(recipe):
        from stillroom.assess.heat.plain import heating_to_dict
        from stillroom.assess.heat.recipes import heat as judge
        from stillroom.assess.heat.recipes import heat_ways
        from stillroom.product.quantity import read
        from stillroom.product.recipe_file import read_recipe

        read_as = read_recipe(recipe)
        judged = judge(read_as, jars)
        media = [read(text, "temperature") for text in at or []]
        found = heat_ways(read_as, media) if find or media else []
        if plot is not None:
            from stillroom.report.plot import draw_heat

            draw_heat(judged, plot, read_as.name)
        if as_json:
            _print_json(heating_to_dict(judged, found))
        else:
            from rich.console import Console

            from stillroom.report.heat import heat_blocks

            for block in heat_blocks(read_as.name, judged, found):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit(judged.exit_status)


@app.command()
def ferment(recipe: RecipePath, plot: Plot = None, as_json: AsJson = False) -> None:
    """Follow the ferments of a recipe: how fast they sour, what could grow first, where they end.

    Exit status: 0 they do what they should, 1 they do not, 2 wrong input, 3 to be measured.
    """
    with _speaking(recipe):
        from stillroom.assess.ferment.plain import ferment_to_dict
        from stillroom.assess.ferment.recipes import ferment as judge
        from stillroom.product.recipe_file import read_recipe

        judged = judge(read_recipe(recipe))
        if plot is not None:
            from stillroom.report.ferment import draw_ferment

            draw_ferment(judged, plot)
        if as_json:
            _print_json(ferment_to_dict(judged))
        else:
            from rich.console import Console

            from stillroom.report.ferment import ferment_blocks

            for block in ferment_blocks(judged):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit(judged.exit_status)


@app.command()
def dry(recipe: RecipePath, plot: Plot = None, as_json: AsJson = False) -> None:
    """Follow the drying of a recipe: the end weight, the hours, the wettest piece, the energy.

    Exit status: 0 it dries as it should, 1 it does not, 2 wrong input, 3 to be measured.
    """
    with _speaking(recipe):
        from stillroom.assess.dry.plain import dry_to_dict
        from stillroom.assess.dry.recipes import dry as judge
        from stillroom.product.recipe_file import read_recipe

        judged = judge(read_recipe(recipe))
        if plot is not None:
            from stillroom.report.dry import draw_dry

            draw_dry(judged, plot)
        if as_json:
            _print_json(dry_to_dict(judged))
        else:
            from rich.console import Console

            from stillroom.report.dry import dry_blocks

            for block in dry_blocks(judged):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit(judged.exit_status)


@app.command()
def routes(
    recipe: RecipePath,
    to: Annotated[str, typer.Option(help='water activity wanted, such as "aw 0.85"')],
    salt: Annotated[
        list[str] | None,
        typer.Option(help='salt to try, such as "4 %" of the food; again for more'),
    ] = None,
    sugar: Annotated[
        list[str] | None, typer.Option(help='sugar to try, such as "25 %" of the food')
    ] = None,
    plot: Plot = None,
    as_json: AsJson = False,
) -> None:
    """Compare the ways of a food to one water activity: drying, salt, sugar, boiling.

    Exit status: 0 compared, 2 wrong input.
    """
    with _speaking(recipe):
        from stillroom.plan.plain import routes_to_dict
        from stillroom.plan.routes import SALT_PERCENT, SUGAR_PERCENT, read_target
        from stillroom.plan.routes import routes as compare
        from stillroom.product.quantity import read
        from stillroom.product.recipe_file import read_recipe

        compared = compare(
            read_recipe(recipe),
            read_target(to),
            [read(s, "share") for s in salt] if salt else SALT_PERCENT,
            [read(s, "share") for s in sugar] if sugar else SUGAR_PERCENT,
        )
        if plot is not None:
            from stillroom.report.routes import draw_routes

            draw_routes(compared, plot)
        if as_json:
            _print_json(routes_to_dict(compared))
        else:
            from rich.console import Console

            from stillroom.report.routes import routes_blocks

            for block in routes_blocks(compared):
                Console().print(block)
            _say_written(plot)


@app.command()
def levers(recipe: RecipePath, as_json: AsJson = False) -> None:
    """Show what moves what: properties and margins per unit of what the maker can change.

    Exit status: 0 shown, 2 wrong input.
    """
    with _speaking(recipe):
        from stillroom.plan.levers import levers as move
        from stillroom.plan.plain import levers_to_dict
        from stillroom.product.recipe_file import read_recipe

        found = move(read_recipe(recipe))
        if as_json:
            _print_json(levers_to_dict(found))
        else:
            from rich.console import Console

            from stillroom.report.levers import levers_blocks

            for block in levers_blocks(found):
                Console().print(block)


@app.command()
def population(
    recipe: RecipePath,
    batches: Annotated[int, typer.Option("-n", "--batches", help="how many batches")] = 10_000,
    seed: Annotated[int, typer.Option(min=0, help="of the draw; equal seeds, equal batches")] = 1,
    as_json: AsJson = False,
) -> None:
    """Make many batches that differ as kitchens and foods do, and count those that hold.

    Exit status: 0 counted, 2 wrong input.
    """
    with _speaking(recipe):
        from rich.console import Console
        from rich.progress import Progress

        from stillroom.plan.plain import population_to_dict
        from stillroom.plan.population import population as make_batches
        from stillroom.product.recipe_file import read_recipe

        read_as = read_recipe(recipe)
        with Progress(console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task("batches", total=batches)
            made = make_batches(
                read_as, batches, seed, progress=lambda n: bar.update(task, completed=n)
            )
        if as_json:
            _print_json(population_to_dict(made))
        else:
            from stillroom.report.population import population_blocks

            for block in population_blocks(made):
                Console().print(block)


@app.command()
def keep(
    recipe: RecipePath,
    temperature: Annotated[
        Path | None,
        typer.Option(
            help="logged temperatures (CSV), and humidities where a column has them, in the place "
            "of the declared ones"
        ),
    ] = None,
    swing: Annotated[
        float, typer.Option(min=0, max=40, help="daily swing, °C from coolest to warmest")
    ] = 0.0,
    plot: Plot = None,
    as_json: AsJson = False,
) -> None:
    """Tell how long a product keeps, and what ends it first: closed, after an excursion, opened.

    Exit status: 0 the declared time is held, 1 it is not, 2 wrong input, 3 measure it.
    """
    with _speaking(temperature):
        from stillroom.product.trace import read_trace

        trace = read_trace(temperature, room=True) if temperature is not None else None
    with _speaking(recipe):
        from stillroom.assess.keep.plain import keep_times_to_dict
        from stillroom.assess.keep.recipes import keep_times
        from stillroom.product.recipe_file import read_recipe

        judged = keep_times(read_recipe(recipe), trace, swing)
        if plot is not None:
            from stillroom.report.pack import draw_pack

            draw_pack(judged, plot)
        if as_json:
            _print_json(keep_times_to_dict(judged))
        else:
            from rich.console import Console

            from stillroom.report.keep import keep_blocks

            for block in keep_blocks(judged):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit(judged.exit_status)


@app.command()
def log(
    trace: Annotated[Path, typer.Argument(help="logged temperatures (CSV)", metavar="TRACE")],
    recipe: Annotated[Path, typer.Option(help="recipe file (TOML)")],
    plot: Plot = None,
    as_json: AsJson = False,
) -> None:
    """Judge a logged run: what the coldest probe received, and what would make a short run good.

    Exit status: 0 met, 1 fell short, 2 wrong input, 3 cannot be told.
    """
    with _speaking():
        from stillroom.assess.heat.plain import log_to_dict
        from stillroom.assess.heat.recipes import judge_log
        from stillroom.product.recipe_file import read_recipe
        from stillroom.product.trace import read_trace

        judged = judge_log(read_trace(trace), read_recipe(recipe))
        if plot is not None:
            from stillroom.report.heat import draw_judged_log

            draw_judged_log(judged, plot)
        if as_json:
            _print_json(log_to_dict(judged))
        else:
            from rich.console import Console

            from stillroom.report.heat import log_blocks

            for block in log_blocks(judged):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit({True: 0, False: 1, None: 3}[judged.met])


@app.command()
def fit(
    data: Annotated[
        Path, typer.Argument(help="counts over time, or rates or D values (CSV)", metavar="DATA")
    ],
    model: Annotated[str, typer.Option(help="name of a model, or best")] = "best",
    at: Annotated[
        str | None, typer.Option(help='take the counts of one temperature, such as "60 degC"')
    ] = None,
    reference: Annotated[
        str | None, typer.Option(help='temperature of a D that goes by z, such as "60 degC"')
    ] = None,
    plot: Plot = None,
    as_json: AsJson = False,
) -> None:
    """Fit growth, survival, rates or D values; tell what the data determine, and what not.

    Models: baranyi, baranyi-no-lag, baranyi-no-max, three-phase, linear; log-linear, weibull,
    log-linear-z, weibull-z; square-root (rates), z (D values); best takes the lowest AICc.

    Exit status: 0 fitted, 2 wrong input, 3 refused in whole or in part.
    """
    with _speaking():
        from stillroom.assess.fit import fit as fit_model
        from stillroom.assess.fit import fit_to_dict
        from stillroom.product.quantity import read
        from stillroom.product.rates_file import read_data

        reference_C = None if reference is None else read(reference, "temperature")
        only_C = None if at is None else read(at, "temperature")
        fitted = fit_model(read_data(data, only_C), model, reference_C=reference_C)
        if plot is not None:
            from stillroom.report.fit import draw_fit

            draw_fit(fitted, plot)
        if as_json:
            _print_json(fit_to_dict(fitted))
        else:
            from rich.console import Console

            from stillroom.report.fit import fit_blocks

            for block in fit_blocks(fitted):
                Console().print(block)
            _say_written(plot)
    raise typer.Exit(fitted.exit_status)


@app.command()
def isotherm(
    points: Annotated[
        Path, typer.Argument(help="moistures over water activities (CSV)", metavar="POINTS")
    ],
    form: Annotated[
        str, typer.Option(help="gab, bet, oswin, halsey, henderson, peleg ...")
    ] = "gab",
    as_json: AsJson = False,
) -> None:
    """Fit a sorption isotherm to measured moistures, and give the table a recipe takes.

    Exit status: 0 fitted, 2 wrong input, 3 refused.
    """
    with _speaking(points):
        from stillroom.assess.isotherm_fit import fit_isotherm
        from stillroom.product.sorption_file import read_sorption

        read = read_sorption(points)
        fitted = fit_isotherm(read.water_activity, read.moisture, form, sd=read.sd)
        if as_json:
            from stillroom.report.isotherm import isotherm_content

            _print_json(isotherm_content(fitted, points.name))
        else:
            from rich.console import Console

            from stillroom.report.isotherm import isotherm_blocks

            for block in isotherm_blocks(fitted, points.name):
                Console().print(block)
    raise typer.Exit(3 if fitted.refusals else 0)


@app.command()
def new(
    path: Annotated[Path, typer.Argument(help="file to write", metavar="FILE")] = Path(
        "recipe.toml"
    ),
) -> None:
    """Write a commented starter recipe; an existing file is left alone."""
    with _speaking():
        from stillroom.errors import InputError
        from stillroom.report.starter import STARTER

        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(STARTER)
        except FileExistsError:
            raise InputError(f"{path} exists already; name another file.") from None
        except OSError as problem:
            raise InputError(f"{path} cannot be written: {problem.strerror}.") from None
        print(f"{path} written. Judge it with: stillroom assess {path}")


@app.command()
def foods(
    words: Annotated[
        list[str] | None, typer.Argument(help="words of the name", metavar="WORD...")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Look up foods by their words; one hit is shown in full, with sources."""
    with _speaking():
        from rich.console import Console

        from stillroom.report import lookup

        hits = lookup.find_foods(" ".join(words or []))
        if as_json:
            _print_json([lookup.food_content(name) for name in hits])
        else:
            Console().print(
                lookup.food_table(hits) if len(hits) > 1 else lookup.food_sheet(hits[0])
            )


@app.command()
def organisms(
    words: Annotated[list[str], typer.Argument(help="words of the name", metavar="WORD...")],
    as_json: AsJson = False,
) -> None:
    """Look up an organism: where it grows, how it stands heat, each with its source."""
    with _speaking():
        from rich.console import Console

        from stillroom.report import organisms as looking

        if as_json:
            _print_json(looking.organism_content(" ".join(words)))
        else:
            Console().print(looking.organism_tables(" ".join(words)))


@app.command()
def limits(
    words: Annotated[
        list[str] | None,
        typer.Argument(help="an additive (sorbate, E 202) or a food (jam)", metavar="WORD..."),
    ] = None,
    food: Annotated[str | None, typer.Option(help="narrow an additive to a food")] = None,
    market: Market = None,
    on: On = None,
    kinds: Annotated[bool, typer.Option("--kinds", help="list the kinds of product")] = False,
    as_json: AsJson = False,
) -> None:
    """Look up what the law allows: additives, product standards, by market and date."""
    with _speaking():
        from rich.console import Console

        from stillroom.errors import InputError
        from stillroom.report import limits as law

        if kinds:
            Console().print(law.kind_table())
            return
        if not words:
            raise InputError("name an additive or a food, such as: stillroom limits sorbate")
        found = law.look_up(" ".join(words), food, market, _day(on))
        if as_json:
            _print_json(found)
        else:
            Console().print(law.limit_table(found))


@app.command()
def explain(
    quantity: Annotated[
        list[str], typer.Argument(help="such as water activity, ph, brix", metavar="QUANTITY")
    ],
    as_json: AsJson = False,
) -> None:
    """Explain a quantity: its equation, sources and where it holds."""
    with _speaking():
        from rich.console import Console

        from stillroom.report import explain as explaining
        from stillroom.report.lookup import explanation_text

        found = explaining.explain(" ".join(quantity))
        if as_json:
            _print_json([vars(e) for e in found])
        else:
            for e in found:
                Console().print(explanation_text(e))


if __name__ == "__main__":
    app()
