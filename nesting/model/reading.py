"""What was understood of one part file: its parts, what was found, and a sketch to mark the findings on."""

from dataclasses import dataclass
from typing import Literal

from nesting.errors import BadValue
from nesting.geometry.contour import Path
from nesting.model.findings import Finding, any_blocks
from nesting.model.part import SheetPart, TubePart

type ReadingKind = Literal["sheet", "tube", "refused"]


@dataclass(frozen=True)
class Reading:
    """The answer of a reader.

    `kind` is "refused" exactly where a finding blocks; the parts that could still be made out may be there for the
    picture. `sketch` holds every cut line seen, closed or not, in the file's own millimetre coordinates, in which
    the findings' places are given too; empty for tube. `unit` is the unit the numbers were read in ("mm", "inch", ...),
    or "" where the file does not say. `counts` says how often the file holds each part; left out, each once.

    Raises:
        BadValue: a kind that does not go with the findings, a usable reading without parts, or counts that do not go
            with the parts.
    """

    kind: ReadingKind
    parts: tuple[SheetPart, ...] | tuple[TubePart, ...] = ()
    findings: tuple[Finding, ...] = ()
    sketch: tuple[Path, ...] = ()
    unit: str = ""
    counts: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if (self.kind == "refused") != any_blocks(self.findings):
            raise BadValue(f"Reading: kind {self.kind!r} does not go with its findings.")
        if self.kind != "refused" and not self.parts:
            raise BadValue("Reading: a usable reading has at least one part.")
        if not self.counts:
            object.__setattr__(self, "counts", (1,) * len(self.parts))
        if len(self.counts) != len(self.parts) or any(count < 1 for count in self.counts):
            raise BadValue(f"Reading: counts {self.counts} do not go with {len(self.parts)} part(s).")
