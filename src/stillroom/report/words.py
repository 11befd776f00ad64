"""Small things every report says alike."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.result import Finding, Verdict

VERDICTS: dict[Verdict, str] = {"pass": "good", "fail": "not good", "cannot tell": "measure"}
STYLES = {"pass": "green", "fail": "red", "cannot tell": "yellow"}


def sentence(text: str) -> str:
    """Return words as a sentence."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def findings_table(findings: Iterable[Finding]) -> RenderableType:
    """Return findings as a table: subject, verdict, why, what would mend it, source."""
    table = Table.grid(padding=(0, 2))
    table.add_column(max_width=26)
    for f in findings:
        reason = Text(f.reason)
        reason.append(f"; {f.remedy}" if f.remedy else "", "italic")
        source = ", ".join(filter(None, [f.citation, f.provenance]))
        reason.append(f"  {source}" if source else "", "dim")
        table.add_row(Text(f.subject), Text(VERDICTS[f.verdict], STYLES[f.verdict]), reason)
    return table


def bullets(lines: Iterable[str]) -> RenderableType:
    """Return lines as a list."""
    table = Table.grid(padding=(0, 1))
    for line in lines:
        table.add_row("•", Text(line))
    return table


def number(value: float) -> str:
    """Return a number with three figures, in words people write."""
    if value == 0 or 0.001 <= abs(value) < 1e5:
        return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"
    return "over 100 000" if value >= 1e5 else "under 0.001"
