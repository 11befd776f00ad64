"""Write docs/verification.md: `python tests/make_verification.py [--check]`.

With --check nothing is written; exits 1 if the committed file is out of date.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from products import ferments, hard_rows, runner
from products.kitchen import read, weights
from products.runner import Result

import stillroom as sr
from stillroom.assess.result import Estimate

TARGET = Path(__file__).parents[1] / "docs" / "verification.md"
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")
HEAD = """# Verification: whole products measured by others

Written by `python tests/make_verification.py`; do not edit by hand. The rows, with their sources,
are `tests/products/products.csv` and, of ferments, `tests/products/ferments.csv`; how each is entered,
and every weight assumed for a cup, stands at the end. Nothing in the program is fitted to these rows but
to one: rate and lowest temperature of gas-forming lactic bacteria were set by the times of SP-fer-04.

*agrees*: within the tolerance. *open*: the program says that it must be measured, and the right answer
is among those it names. *misses*: outside the tolerance; *careful side* or *unsafe side* says
which way (a water activity or pH that reads too low makes a food look better kept than it is).
*shown*: printed beside, not judged. Tolerances: *note* and *kind table* are those of the collection of
rows; *digits* is half a unit of the last digit of a printed band; *measured* is a word or a limit of
the source; *time* is a factor on days that were read off a curve of one batch. The interval in brackets
is what the program itself prints (95 %).

Heat: a tested home process is taken to reach the five decades that are asked against *pathogens* and
against *spoilage*, so it agrees where the upper end of the interval does. Lethality is that of the
coldest place; *times* is that over what is asked. At sea level; food filled at 90 °C, raw pieces of
20 °C under liquor of 95 °C, jars of 20 °C; no minute counted before the water boils again, which no
row states; 5 h in air of 21 °C."""


PAST_THE_FILE = """\
Entered through mixtures:

- a food brought to a water content or dried by a share of its weight (SP-lea, SP-mea, SP-fis), which a
  step `dry` could now say;
- a laboratory composition (SP-hon, SP-dai, SP-sau): there is no food that is only a composition, every
  own food is `like` a row of the table; per 100 ml the water must be found from the density;
- nitrogen as amino acids and peptides, ash as potassium and the rest, a titrated free acid.

Entered with an assumption a cook would not know to make: green mango (the table holds ripe mango),
injected brine with sodium lactate, honey drier than 15 % water (`soluble_solids` ends at 85 %)."""


FERMENTED = ("fermented vegetable", "ferment")
ABOUT_FERMENTS = """\
Recipes with a `ferment` step and without readings. *Between*: the slow and the fast end of the same
ferment (rates by 40 %, cells at the start by ten, unnamed buffer by 40 %), by size; beside it the
program prints every end pH as ± 0.3. A higher pH or a later hour than measured is the careful side.

Not independent: SP-fer-04 (see the head). The rest stands on growth of single strains in broth and
juice, limits of one strain in cucumber juice, and assumed counts at the start; no other row of this
section is named in its tables."""
UNCALIBRATED = """\
What a plain sum gives: all of the sugar to lactic acid, against the minerals and the buffer of the
vegetable. For cucumbers that comes to pH 2.95 to 3.07, while tanks end at 3.30 ± 0.12. Taken in one after
another, what a computed ferment does instead:"""
STILL_LOW = """\
Gas formers come first: half of the sugar they take becomes acid, and they stop at pH 3.9. There is little
malic acid. The plain flora stops at its own acid, below the pH of tanks, which have no sugar left. What
is missing in salt brine, 0.1 to 0.15 pH, is not unnamed buffer (twice of it moves the end by 0.01) but
some 5 to 7 meq/kg of cations that hold acid as salt; hard water, lime and pickling cucumbers may bring
them, where the table holds slicing cucumbers and pure water. The calcium brine comes out right for a
weak reason: its starter is taken as both floras alike. Nothing was tuned to the tanks; the program
prints ± 0.3 and asks for a reading."""


def main(arguments: list[str]) -> int:
    text = report()
    if "--check" in arguments:
        found = differences(TARGET.read_text("utf-8") if TARGET.is_file() else "", text)
        print("\n".join(found) or f"{TARGET.name} is up to date.")
        return 1 if found else 0
    TARGET.write_text(text, "utf-8")
    return 0


def differences(committed: str, fresh: str) -> list[str]:
    """Return the lines that differ by more than one unit of a last printed digit."""
    old, new = committed.splitlines(), fresh.splitlines()
    if len(old) != len(new):
        return [f"{len(old)} lines, {len(new)} expected: run python tests/make_verification.py"]
    return [f"- {a}\n+ {b}" for a, b in zip(old, new, strict=True) if not _same(a, b)]


def _same(a: str, b: str) -> bool:
    if NUMBER.sub("#", a) != NUMBER.sub("#", b):
        return False
    pairs = zip(NUMBER.findall(a), NUMBER.findall(b), strict=True)
    return all(abs(float(x) - float(y)) <= 1.001 * _unit(x, y) for x, y in pairs)


def _unit(*printed: str) -> float:
    """Return a unit of the last digit; whole numbers are counts and identifiers, and exact."""
    decimals = min(len(p.partition(".")[2]) for p in printed)
    return 10.0**-decimals if decimals else 0.0


def report() -> str:
    results = list(runner.results())
    parts = [
        HEAD,
        "## Totals",
        _totals(results),
        _by(results, "strength", "How strong the row is"),
        _intervals(results),
        "## Predicted beside measured",
        *_rows([r for r in results if r.kind not in FERMENTED]),
        "## Ferments",
        *_ferments([r for r in results if r.kind in FERMENTED]),
        "## Growth: hard rows",
        *_growth(),
        "## Every miss, in plain words",
        "Those of ferments stand in their own section.",
        _misses(results),
        "## Remarks on the rest",
        _table(
            ("row", "what", "remark"),
            (
                (r.row, r.quantity, r.remark)
                for r in results if r.remark and not r.known and r.kind not in FERMENTED
            ),
        ),
        "## A cup is not a weight",
        "Everything measured in cups or pieces scant or heaped by its spread, all at once: the pH.",
        _table(
            ("row", "scant", "as weighed", "heaped"),
            ((row, *(f"{p:.2f}" for p in ph)) for row, *ph in runner.loose()),
        ),
        "## What the trade says",
        _trade(),
        "## Rows not run",
        _table(
            ("row", "product", "needs", "why"),
            ((r["row"], runner.rows()[r["row"]]["product"], r["needs"], r["why"])
             for r in read("not_run.csv")),
        ),
        "Of the rows that are run, these parts wait too: the minutes of heat of jelly (SP-rec-03) and of "
        "all tested recipes above sea level, the share of jars above 4.6 (SP-acd-07: a population), changes on the shelf "
        "of squash and juice (SP-cor-01, -02), shelf lives in films (SP-lea-01, -02).",
        "## What the recipe file could not take",
        PAST_THE_FILE,
        "## How each row is entered",
        _table(("row", "entered"), ((r, runner.entered(r)) for r in sorted(runner.predictions()))),
        "## Weights assumed",
        _table(
            ("measure", "g", "spread, %", "note", "source"),
            ((w["measure"], w["grams"], w["spread_percent"], w["note"],
              f"{w['source']} ({w['provenance']})") for w in weights().values()),
        ),
    ]  # fmt: skip
    return "\n\n".join(parts) + "\n"


# --- parts --------------------------------------------------------------------------------------


def _table(head: Iterable[str], lines: Iterable[Iterable[str]]) -> str:
    head = list(head)
    body = [
        "| " + " | ".join(str(cell).replace("|", "or") for cell in line) + " |" for line in lines
    ]
    return "\n".join(["| " + " | ".join(head) + " |", "|" + " --- |" * len(head), *body])


def _counts(found: list[Result]) -> tuple[str, ...]:
    def n(verdict: str, side: str | None = None) -> str:
        return str(sum(r.verdict == verdict and side in (None, r.side) for r in found))

    judged = sum(r.verdict != "shown" for r in found)
    return (str(judged), n("agrees"), n("open"), n("misses", "careful"), n("misses", "unsafe"),
            n("misses", ""))  # fmt: skip


COUNTED = ("checks", "agree", "open", "miss, careful side", "miss, unsafe side", "miss, other")


def _totals(results: list[Result]) -> str:
    kinds = list(dict.fromkeys(r.kind for r in results))
    lines = [(k, *_counts([r for r in results if r.kind == k])) for k in kinds]
    return _table(("kind", *COUNTED), [*lines, ("all", *_counts(results))])


def _by(results: list[Result], attribute: str, words: str) -> str:
    groups = list(dict.fromkeys(getattr(r, attribute) for r in results))
    lines = [(g, *_counts([r for r in results if getattr(r, attribute) == g])) for g in groups]
    return _table((words, *COUNTED), lines)


def _intervals(results: list[Result]) -> str:
    held = [r for r in _measured(results) if r.kind not in FERMENTED]
    met = [r for r in held if _meets(r.predicted, r.expected)]  # type: ignore[arg-type]
    return (
        f"The interval printed with a prediction meets the measured value or band in {len(met)} of "
        f"{len(held)} cases, those of ferments not counted."
    )


def _measured(results: list[Result]) -> list[Result]:
    return [r for r in results if isinstance(r.predicted, Estimate) and r.expected[0].isdigit()]


def _meets(estimate: Estimate, expected: str) -> bool:
    low, _, high = expected.partition("..")
    return estimate.low <= float(high or low) and estimate.high >= float(low)


def _products(results: list[Result]) -> str:
    products = runner.rows()
    names = dict.fromkeys(r.row for r in results)
    return "\n".join(f"- {n}: {products[n]['product']} [{products[n]['source']}]" for n in names)


def _rows(results: list[Result]) -> Iterator[str]:
    for kind in dict.fromkeys(r.kind for r in results):
        yield f"### {kind[0].upper()}{kind[1:]}"
        mine = [r for r in results if r.kind == kind]
        yield _products(mine)
        yield _table(
            ("row", "strength", "what", "predicted", "measured or expected", "tolerance", "verdict"),
            (
                (r.row, r.strength, r.quantity, _predicted(r),
                 r.expected if r.expected != "shown" else "", _tolerance(r), _verdict(r))
                for r in mine
            ),
        )  # fmt: skip


def _ferments(results: list[Result]) -> Iterator[str]:
    yield ABOUT_FERMENTS
    yield _products(results)
    yield _table(
        ("row", "what", "predicted", "between", "measured or expected", "tolerance", "verdict", "why"),
        (
            (r.row, r.quantity, *_with_ends(r), r.expected if r.expected != "shown" else "",
             _tolerance(r), _verdict(r), r.remark)
            for r in results
        ),
    )  # fmt: skip
    yield _reach(_measured(results))
    yield UNCALIBRATED
    tanks = {
        "5 % salt, 2.1 % sugar (SP-fer-02)": ferments.salt_tank(),
        "5 % salt, 1.7 % sugar": ferments.salt_tank(sweet=False),
        "calcium, 2.1 % sugar (SP-fer-01)": ferments.calcium_tank(),
        "calcium, 1.7 % sugar": ferments.calcium_tank(sweet=False),
    }
    steps = [ferments.what_lifts_the_end(f) for f in tanks.values()]
    lines = [(words, *(f"{s[words]:.2f}" for s in steps)) for words in steps[0]]
    yield _table(("pH with", *tanks), [*lines, ("measured", "3.30", "3.30", "3.23", "3.23")])
    yield STILL_LOW


def _reach(results: list[Result]) -> str:
    between = sum(_meets(r.predicted, r.expected) for r in results)  # type: ignore[arg-type]
    sour = [r for r in results if r.quantity.startswith("ph")]
    wide = [Estimate(r.value, r.value - 0.3, r.value + 0.3) for r in sour]  # type: ignore[operator, arg-type]
    held = sum(_meets(e, r.expected) for e, r in zip(wide, sour, strict=True))
    return (
        f"The slow and the fast end hold the measured value or meet its band in {between} of "
        f"{len(results)} cases; the ± 0.3 of the pH does in {held} of {len(sour)}."
    )


def _with_ends(r: Result) -> tuple[str, str]:
    if not isinstance(r.predicted, Estimate):
        return _predicted(r), ""
    if r.quantity.startswith("heat"):
        return _predicted(r), ""
    value, low, high = (
        _rounded(e, r.quantity) for e in (r.predicted.value, r.predicted.low, r.predicted.high)
    )
    return value, f"{low} to {high}"


def _growth() -> Iterator[str]:
    yield (
        "Of `tests/cases/cases_microbes.csv`, all of which pass, these are the hard ones and how they "
        "pass. A limit taken from the paper that is checked, or a rate fitted to the data that are "
        "checked, shows that the table is read rightly and no more."
    )
    yield _table(
        ("case", "what", "predicted", "measured", "tolerance", "how it passes"), hard_rows.rows()
    )
    yield (
        "MIC-022 by its water activity, as a recipe would be judged (15 °C, pH 6, limit with salt 0.88; "
        "the error of a predicted water activity, 0.01 and more, is taken in on the careful side "
        "afterwards):"
    )
    yield _table(
        ("brine", "water activity", "*Listeria monocytogenes*"),
        ((words, f"{a_w:.3f}", said) for words, a_w, said in hard_rows.brines()),
    )
    yield (
        "The lowest water activity on file, 0.92, and the highest salt of growth, 16 %, do not agree: the "
        "brine of 16 % stands near 0.88. The limit in salt is therefore the lower of the two, and meat with "
        "as much salt is called able to grow, as was seen in broth."
    )


def _tolerance(r: Result) -> str:
    number = f"{r.tolerance} " if r.tolerance else ""
    return f"{number}({r.basis})" if r.basis else ""


def _verdict(r: Result) -> str:
    return (
        f"**misses**{', ' + r.side + ' side' if r.side else ''}"
        if r.verdict == "misses"
        else r.verdict
    )


def _predicted(r: Result) -> str:
    value = r.value
    if isinstance(value, str):
        return value
    number = _rounded(float(value), r.quantity)  # type: ignore[arg-type]
    if isinstance(r.predicted, Estimate):
        ends = (_rounded(e, r.quantity) for e in (r.predicted.low, r.predicted.high))
        number += f" [{' to '.join(ends)}]"
        if r.quantity.startswith("heat"):
            asked = float(r.expected.removeprefix("> "))
            number += f", {_rounded(r.predicted.value / asked, r.quantity)} times"
    return number


def _rounded(value: float, quantity: str) -> str:
    if value == float("inf"):
        return "never"
    if quantity.startswith("heat"):
        return f"{float(f'{value:.3g}'):g}"
    if "water_activity" in quantity or "Brix" in quantity or "lactate" in quantity:
        return f"{value:.3f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"


def _misses(results: list[Result]) -> str:
    return _table(
        ("row", "what", "predicted", "measured or expected", "where it lies"),
        (
            (r.row, r.quantity, _predicted(r), r.expected, r.remark or "not explained yet")
            for r in results if r.verdict == "misses" and r.kind not in FERMENTED
        ),
    )  # fmt: skip


def _trade() -> str:
    lines = []
    for words, mixture in runner.trade_statements():
        simple, better = (float(sr.water_activity(mixture, model=m)) for m in ("ideal", None))
        side = "high" if simple > better else "low"
        lines.append(
            (words, f"{simple:.3f}", f"{better:.3f}", f"{abs(simple - better):.3f} too {side}")
        )
    return (
        "138 g of water in 158 g of a fresh berry gives a mole fraction of water of about 0.99; a "
        "preserve of 2224 g holding 516.8 g of water, the rest taken as sucrose, about 0.85 (both "
        "common practice, no source).\n\n"
        + _table(("statement", "mole fraction", "water activity", "the simple value is"), lines)
        + "\n\nThe simple value reads high, so it understates what sugar does: nothing in a fresh "
        "berry, a tenth in a preserve. By itself it errs on the careful side; a cook who trusts it "
        "boils too far. 77 % of sucrose would not stay dissolved at room temperature: part of it "
        "must invert, or it grains."
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
