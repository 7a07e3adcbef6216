"""What reading a file or checking a nest found: which fault, how grave, where, and what to do.

A finding is returned, never raised: it is a fact about a customer's file or a nest, not about our call.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from nesting.units import Point


class Severity(StrEnum):
    """How grave a finding is, mildest first."""

    NOTE = "note"
    """Something was left out or mended that needs no action."""
    WARNING = "warning"
    """Usable, but a person should look."""
    QUESTION = "question"
    """Not usable until a person has answered, for example which unit the drawing is in."""
    REFUSAL = "refusal"
    """Not usable; the file must be corrected."""


@dataclass(frozen=True)
class Finding:
    """One thing found.

    `code` is a stable kebab-case word for programs (`unit-unknown`, `open-contour`). `message` is whole sentences for
    people: what, where, what to do. `at` is a point in the file's own millimetre coordinates, or on the sheet, or
    None where the fault has no place.
    """

    code: str
    severity: Severity
    message: str
    at: Point | None = None

    @property
    def blocks(self) -> bool:
        """Whether the thing found on cannot be used as it is."""
        return self.severity in (Severity.QUESTION, Severity.REFUSAL)


def any_blocks(findings: Iterable[Finding]) -> bool:
    """Whether any of the findings keeps the thing from being used."""
    return any(finding.blocks for finding in findings)
