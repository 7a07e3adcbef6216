"""Stops the reading of a drawing from deep inside with one finding, and keeps long lists of findings short."""

from collections import Counter
from collections.abc import Iterable

from nesting.drawing.wording import printable
from nesting.errors import NestingError
from nesting.model.findings import Finding, Severity
from nesting.units import Point

MOST_PER_CODE = 20
"""Findings of one kind that are given with their place; a person mends the first few and uploads again."""


class StopReading(NestingError):
    """The file cannot be read any further; `finding` is what its owner is told. Never leaves `nesting.drawing`."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.message)
        self.finding = finding


def refusal(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.REFUSAL, printable(message), at)


def warning(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.WARNING, printable(message), at)


def note(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.NOTE, printable(message), at)


def shortened(findings: Iterable[Finding]) -> list[Finding]:
    """At most `MOST_PER_CODE` findings of each code, then one that counts the rest; gravest first, else in order."""
    found = list(findings)
    counts = Counter(finding.code for finding in found)
    seen: Counter[str] = Counter()
    kept = []
    for finding in found:
        seen[finding.code] += 1
        if seen[finding.code] <= MOST_PER_CODE:
            kept.append(finding)
        elif seen[finding.code] == counts[finding.code]:
            rest = counts[finding.code] - MOST_PER_CODE
            places = "place is" if rest == 1 else "places are"
            kept.append(Finding(finding.code, finding.severity, f"{rest} more {places} like these {MOST_PER_CODE}."))
    grave = list(Severity)
    return sorted(kept, key=lambda finding: -grave.index(finding.severity))
