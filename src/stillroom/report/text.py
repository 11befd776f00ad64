"""The judgement as text for a terminal: the answer first, then what it rests on."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from stillroom.assess.keeping import MADE_SO
from stillroom.assess.result import Area, Assessment, Estimate, Finding, Outcome
from stillroom.product.process import Stage
from stillroom.product.quantity import WANTED
from stillroom.report.heat import reached_table
from stillroom.report.words import STYLES, bullets, sentence
from stillroom.working import Known, Line, Working

OUTCOME_STYLES = {
    Outcome.SEALED: "bold green",
    Outcome.COLD: "bold cyan",
    Outcome.NOT: "bold red",
    Outcome.UNKNOWN: "bold yellow",
}
# what a verdict is called where it stands
ORGANISM_WORDS = {"pass": "held", "fail": "can grow", "cannot tell": "measure"}
LAW_WORDS = {"pass": "met", "fail": "not met", "cannot tell": "open"}
QUALITY_WORDS = {"pass": "good", "fail": "look at", "cannot tell": "open"}
PROPERTY_WORDS = {
    "water_activity": "water activity",
    "water_activity_after_keeping": "water activity after keeping",
    "ph": "pH",
    "brix": "soluble solids, refractometer",
    "dry_matter": "dry matter",
    "salt": "salt",
    "water_phase_salt": "salt of the water phase",
    "titratable_acidity": "titratable acidity",
    "buffer_capacity": "buffer capacity",
    "density": "density",
    "osmotic_pressure": "osmotic pressure",
    "boiling_point": "boiling point",
    "freezing_point": "freezing point",
}
STATED = ("falls under", "duty", "Listeria", "date mark", "sulphite label")  # no pass or fail
VERDICTS = ("fail", "cannot tell", "pass")  # in order of interest
NAMED = 5  # organisms of a line
DIGITS = {"water_activity": 3, "water_activity_after_keeping": 3, "ph": 2, "density": 3}


def show(console: Console, a: Assessment, working: bool = False, full: bool = False) -> None:
    """Print an assessment.

    Args:
        console: to print on.
        a: the assessment.
        working: print the worked solution too.
        full: a line for every organism.
    """
    for block in blocks(a, working, full):
        console.print(block)


def blocks(a: Assessment, working: bool = False, full: bool = False) -> Iterable[RenderableType]:
    """Yield the parts of the report, in reading order."""
    yield _head(a)
    yield _answer(a)
    yield _section("What was made", _stages(a.batch.stages))
    yield _section("What it is", _properties(a))
    if a.heating is not None and a.heating.reached:
        yield _section("What the heat reaches", reached_table(a.heating.reached))
    fermented = [f for f in a.findings if f.subject.startswith(MADE_SO)]
    if fermented:
        yield _section("What the ferment does", _fermented(fermented))
    yield _section("What could grow in it", _organisms(a, full))
    law = a.of("law")
    if law:
        yield _section("What the law says", _law(law))
    if a.of("quality") or a.of("process"):
        found = [f for f in a.of("process") + a.of("quality") if f not in fermented]
        yield _section("What people will find", _plain_findings(found))
    yield _section("Before it is sold", bullets([*a.measure, *a.cautions]))
    if a.notes:
        yield _section("Assumed", bullets(a.notes))
    if working:
        yield _section("Working", _working(a.working))


def _section(title: str, body: RenderableType) -> RenderableType:
    return Group(Text(""), Rule(title, align="left", style="dim"), body)


# --- the answer -------------------------------------------------------------------------------


def _head(a: Assessment) -> RenderableType:
    about = ", ".join(filter(None, [a.recipe.kind, *a.recipe.market]))
    return Text.assemble((a.recipe.name, "bold"), (f"   {about}" if about else "", "dim"))


def _answer(a: Assessment) -> RenderableType:
    lines: list[RenderableType] = [
        Text.assemble(
            (str(a.outcome).capitalize(), OUTCOME_STYLES[a.outcome]), ("   " + _declared(a), "dim")
        ),
        Text(f"{sentence(a.reason)}"),
    ]
    rows = Table.grid(padding=(0, 2))
    if a.deciding is not None:
        rows.add_row(Text("Hangs on", "bold"), Text(_deciding(a.deciding)))
    if a.single_point:
        rows.add_row(Text("Single point", "bold"), Text(a.single_point))
    for n, remedy in enumerate(a.remedies):
        rows.add_row(Text("What would help" if n == 0 else "", "bold"), Text(sentence(remedy)))
    return Group(*lines, Padding(rows, (1, 0, 0, 0)))


def _declared(a: Assessment) -> str:
    keep = a.recipe.keep()
    if keep is None:
        return ""
    words = {True: "as declared", False: "not as declared", None: "declared"}[a.as_declared]
    return f"{words}: {keep.temperature:g} °C, {_time(keep.for_)}, {keep.pack}"


def _time(minutes: float) -> str:
    for size, word in ((525960, "year"), (43830, "month"), (1440, "day"), (60, "h")):
        if minutes >= 2 * size or (minutes >= size and minutes % size == 0):
            count = minutes / size
            plural = "s" if word != "h" and round(count, 1) != 1 else ""
            return f"{count:.3g} {word}{plural}"
    return f"{minutes:.3g} min"


def _deciding(f: Finding) -> str:
    words = f"{f.subject}: {f.reason}"
    if f.value is not None and f.limit is not None:
        words += f" ({_numbers(f)})"
    return words


def _numbers(f: Finding) -> str:
    if f.value is None:
        return ""
    digits = 3 if f.unit == "" else 2
    value = f"{f.value:.{digits}f}"
    half = f" ± {f.uncertainty:.{digits}f}" if f.uncertainty else ""
    limit = f", limit {f.limit:.{digits}f}" if f.limit is not None else ""
    name = {"": "water activity ", "pH": "pH "}.get(f.unit, "")
    unit = "" if f.unit in ("", "pH") else f" {f.unit}"
    return f"{name}{value}{half}{unit}{limit}"


# --- what was made ----------------------------------------------------------------------------


def _stages(stages: Iterable[Stage]) -> RenderableType:
    from stillroom.product import properties

    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("step", "", "batch kg", "water kg", "Brix", ""):
        table.add_column(
            name, justify="right" if name in ("batch kg", "water kg", "Brix") else "left"
        )
    for s in stages:
        table.add_row(
            str(s.number),
            s.step.verb,
            f"{float(s.mixture.total_kg):.3f}",
            f"{float(s.mixture.kg('water')):.3f}",
            f"{float(properties.brix(s.mixture)):.1f}",
            Text(_stage_remark(s)),
        )
    return table


def _stage_remark(s: Stage) -> str:
    f = {k: float(v) for k, v in s.facts.items()}
    words = {
        "add": lambda: ", ".join(s.step.add or {}),
        "boil": lambda: (
            f"{f['steam_kg']:.2f} kg steam and {f['energy_kWh']:.1f} kWh, ends at "
            f"{f['boil_end_C']:.1f} °C, "
            f"{f['inverted_percent']:.0f} % of the sucrose inverted"
        ),
        "steep": lambda: (
            "at equilibrium with " + ", ".join(s.step.steep.liquor if s.step.steep else {})
        ),
        "cure": lambda: (
            f"{s.step.cure.method if s.step.cure else ''}, {f['left_over_kg']:.3g} kg left over"
        ),
        "drain": lambda: f"{f['drained_kg']:.2f} kg drained",
        "fill": lambda: (
            f"{f['packs']:.0f} packs of {1000 * f['net_kg']:.0f} g, {s.temperature_C:.0f} °C with "
            "the container"
        ),
        "ferment": lambda: (
            f"{s.step.ferment.kind if s.step.ferment else ''}, {_time(s.minutes)} at "
            f"{s.temperature_C:g} °C, {f['sugar_used_percent']:.0f} % of the sugar used"
        ),
        "cook": lambda: f"heated through to {s.temperature_C:g} °C",
        "dry": lambda: f"dried to {f['dried_kg']:.4g} kg",
        "heat": lambda: f"{_time(s.minutes)} {_in(s)} of {s.temperature_C:.1f} °C",
        "cool": lambda: f"{_in(s)} of {s.temperature_C:.0f} °C",
        "keep": lambda: (
            f"{_time(s.minutes)} at {s.temperature_C:g} °C"
            + (
                f", {f['inverted_percent']:.0f} % of the sucrose inverted"
                if f.get("inverted_percent", 0) > 0.5
                else ""
            )
            + (
                f", a pack {'gains' if f['gained_g'] >= 0 else 'loses'} {abs(f['gained_g']):.1f} g "
                f"of water: water activity {f['end_water_activity']:.2f}"
                if "gained_g" in f
                else ""
            )
        ),
    }
    return words[s.step.verb]()


def _in(s: Stage) -> str:
    step = s.step.heat or s.step.cool
    return f"in {step.in_}" if step else ""


def _properties(a: Assessment) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("", "estimate", "between", ""):
        table.add_column(name, justify="right" if name == "estimate" else "left")
    for name, e in a.properties.items():
        if name in ("salt", "water_phase_salt") and e.value < 0.05:
            continue
        table.add_row(PROPERTY_WORDS[name], *_estimate(name, e))
    simple, better = a.teaching["water_activity_simple"], a.teaching["water_activity_better"]
    sign = "too high: it understates" if simple > better else "too low: it overstates"
    words = (
        f"By mole fraction alone the water activity would be {simple:.3f}; that reads {sign} how "
        "well "
        f"the product keeps (better estimate {better:.3f})."
    )
    return Group(table, Text(words, "dim"))


def _estimate(name: str, e: Estimate) -> tuple[str, str, str]:
    if e.value != e.value:
        return "", "", "cannot be computed for so dry a mix"
    d = DIGITS.get(name, 1 if abs(e.value) >= 1 else 2)
    spread = f"{e.low:.{d}f} to {e.high:.{d}f}" if e.high - e.low > 0.5 * 10**-d else ""
    note = "measured" if e.kind == "measured" else e.note
    return f"{e.value:.{d}f} {e.unit}".strip(), spread, note


# --- findings ---------------------------------------------------------------------------------


AREAS: tuple[tuple[str, Area], ...] = (("dangerous", "hazard"), ("spoiling", "spoilage"))


def _organisms(a: Assessment, full: bool) -> RenderableType:
    make = _every_organism if full else _organisms_by_hurdle
    return Group(*(make(title, _growing(a.of(area))) for title, area in AREAS))


def _growing(findings: list[Finding]) -> list[Finding]:
    return [f for f in findings if not f.subject.startswith(MADE_SO)]


def _fermented(findings: list[Finding]) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    table.add_column(max_width=30)
    for f in findings:
        table.add_row(Text(f.subject), _verdict(f, QUALITY_WORDS), Text(f.reason))
    return table


def _organism_columns(title: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column(title, max_width=44)
    table.add_column("")
    table.add_column("")
    return table


def _every_organism(title: str, findings: list[Finding]) -> Table:
    table = _organism_columns(title)
    for f in sorted(findings, key=lambda f: (f.verdict == "pass", _tightness(f))):
        table.add_row(f.subject, _verdict(f, ORGANISM_WORDS), Text(_why(f)))
    return table


def _organisms_by_hurdle(title: str, findings: list[Finding]) -> Table:
    """Return a line per reason: what is open by its names, what is held by the nearest one."""
    table = _organism_columns(title)
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for f in sorted(findings, key=lambda f: (VERDICTS.index(f.verdict), _tightness(f))):
        same = f.hurdles[:1] if f.verdict == "pass" else (f.reason,)
        groups.setdefault((f.verdict, *same), []).append(f)
    for group in groups.values():
        first = group[0]
        if first.verdict != "pass":
            names = [f.subject for f in group]
            more = f"and {len(names) - NAMED} more (--all)"
            who = ", ".join([*names[:NAMED], more] if len(names) > NAMED + 1 else names)
            why = _why(first) if len(group) == 1 else first.reason
            table.add_row(who, _verdict(first, ORGANISM_WORDS), Text(why))
        else:
            who = "1 organism" if len(group) == 1 else f"{len(group)} organisms"
            nearest = "" if _filled(first) else f"; nearest to growing: {first.subject}"
            table.add_row(who, _verdict(first, ORGANISM_WORDS), Text(_why(first) + nearest))
    return table


def _filled(f: Finding) -> bool:
    return f.hurdles[:1] == ("heat",)


def _why(f: Finding) -> str:
    told = _filled(f) or f.subject.startswith(("heat against", "hot fill"))
    numbers = _numbers(f) if f.limit is not None and not told else ""
    return f"{f.reason} ({numbers})" if numbers else f.reason


def _tightness(f: Finding) -> float:
    from stillroom.assess.keeping import YARDSTICK

    hurdle = f.hurdles[0] if f.hurdles else ""
    return (f.margin or 0.0) / YARDSTICK.get(hurdle, 1.0)


def _verdict(f: Finding, words: dict[str, str]) -> Text:
    return Text(words[f.verdict], STYLES[f.verdict])


def _law(findings: list[Finding]) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    table.add_column(max_width=30)
    market = ""
    for f in findings:
        if f.market != market:
            market = f.market
            table.add_row(Text(market, "bold"))
        word = Text("") if f.verdict == "pass" and f.subject in STATED else _verdict(f, LAW_WORDS)
        source = "; ".join(filter(None, [f.citation.partition(": ")[0], _to_verify(f)]))
        reason = Text(f.reason).append(f"  {source}" if source else "", "dim")
        table.add_row(Padding(Text(f.subject), (0, 0, 0, 2)), word, reason)
    remark = Text(
        "A screening aid, not legal advice; what is to be verified is from memory.", "dim"
    )
    return Group(table, remark)


def _to_verify(f: Finding) -> str:
    return "to verify" if "memory" in f.provenance else ""


def _plain_findings(findings: list[Finding]) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for f in findings:
        value = "" if f.value is None else f"{f.value:.3g} {f.unit}".strip()
        table.add_row(Text(f.subject), value, _verdict(f, QUALITY_WORDS), Text(f.reason))
    return table


# --- working ----------------------------------------------------------------------------------


def _working(w: Working) -> RenderableType:
    parts: list[RenderableType] = []
    for words, items in w.parts:
        parts += [Text(""), Text(words, "bold")]
        parts += [
            Padding(_line(i) if isinstance(i, Line) else Text(i), (0, 0, 0, 2)) for i in items
        ]
    parts += [
        Text(""),
        Text("Sources", "bold"),
        *(Padding(Text(s, "dim"), (0, 0, 0, 2)) for s in w.sources()),
    ]
    return Group(*parts)


def _line(line: Line) -> RenderableType:
    inputs = ", ".join(f"{name} = {_known(k)}" for name, k in line.inputs.items())
    body = Text.assemble(
        (f"{line.words or line.formula.name} = ", ""),
        (_known(line.result), "bold"),
        (f"\n    {' '.join(line.formula.equation.split())}", "cyan"),
        (f"\n    {inputs}", "dim"),
        (
            f"\n    {line.formula.source}"
            + (f", {line.formula.place}" if line.formula.place else ""),
            "dim",
        ),
    )
    for warning in line.outside():
        body.append(f"\n    {warning}", "yellow")
    return body


def _known(k: Known) -> str:
    try:
        number = f"{float(k.value):.4g}"
    except (TypeError, ValueError):
        number = f"[{len(k.value)} values, sum {float(sum(k.value)):.4g}]"
    return f"{number} {k.unit}".strip()


def units_help() -> str:
    """Return how quantities are written, for help texts."""
    return "; ".join(f"{what}: {examples}" for what, (_, _, _, examples) in WANTED.items())
