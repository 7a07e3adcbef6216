"""The cuts of a tube or bar: what kind its two ends are, and what is cut out of its walls.

Places are (x, s): x along the tube from its start, s round its outer surface. s begins where the section's outline
begins, runs from +y (the width) towards +z (the height), and a whole round is the girth. Directions across the tube are
angles from +y towards +z, so 90 is the top.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from nesting.errors import BadValue
from nesting.geometry.contour import Contour, Path
from nesting.units import Deg, Mm


class EndKind(StrEnum):
    SQUARE = "square"
    MITRE = "mitre"
    """Plane, and leaning from square."""
    COPE = "cope"
    """Shaped to sit on a round tube, which leaves a saddle."""
    NOTCHED = "notched"
    """Plane, square or leaning, but for what is cut out of it: a saw makes the plane, and a second cut the notch."""
    FREE = "free"
    """Any other shape."""


@dataclass(frozen=True)
class EndCut:
    """One end. `path` is the unrolled contour on the outer surface, once round from s = 0 to the girth.

    A mitre leans `angle` from square and has its long point at the side `towards`; so does the plane of a notched end,
    which is square where the angle is 0. A cope sits on a tube of `diameter`
    whose axis passes `offset` beside this one's and crosses it at `angle`; across the tube that axis runs `towards`,
    which is where it leans outwards if the angle is not 90. `bevel` says how far the cut face leans from square to the
    outer surface, at most.

    Raises:
        BadValue: an angle of a mitre or cope, or a diameter, that none can have.
    """

    kind: EndKind
    path: Path
    angle: Deg = 0.0
    towards: Deg = 0.0
    diameter: Mm = 0.0
    offset: Mm = 0.0
    bevel: Deg = 0.0

    def __post_init__(self) -> None:
        numbers = (self.angle, self.towards, self.diameter, self.offset, self.bevel)
        if not all(math.isfinite(value) for value in numbers):
            raise BadValue("EndCut: angles and measures must be numbers.")
        if self.kind is EndKind.MITRE and not 0.0 < self.angle < 90.0:
            raise BadValue(f"EndCut: a mitre cannot lean by {self.angle}°.")
        if self.kind is EndKind.NOTCHED and not 0.0 <= self.angle < 90.0:
            raise BadValue(f"EndCut: a notched end cannot lean by {self.angle}°.")
        if self.kind is EndKind.COPE and not (0.0 < self.angle <= 90.0 and self.diameter > 0.0):
            raise BadValue(f"EndCut: no cope sits on {self.diameter} mm at {self.angle}°.")

    def __str__(self) -> str:
        """In words: "mitre 45°, long point at the top"."""
        if self.kind is EndKind.NOTCHED and self.angle == 0.0:
            return "square with a notch"
        if self.kind in (EndKind.MITRE, EndKind.NOTCHED):
            words = f"mitre {_plain(self.angle)}°, long point {side_words(self.towards)}"
            return f"{words}, with a notch" if self.kind is EndKind.NOTCHED else words
        if self.kind is not EndKind.COPE:
            return self.kind.value
        words = f"cope for ⌀ {_plain(self.diameter)} mm"
        if abs(self.angle - 90.0) > 0.05:
            words += f" at {_plain(self.angle)}°"
        return words + (f", {_plain(abs(self.offset))} mm off the middle" if abs(self.offset) > 0.005 else "")


class CutOutKind(StrEnum):
    ROUND = "round hole"
    SLOT = "slot"
    RECTANGLE = "rectangle"
    SLIT = "slit"
    """Along the whole tube, from end to end."""
    FREE = "cut-out"


@dataclass(frozen=True)
class CutOut:
    """One opening in a wall. `contours` are unrolled; the first is the one the beam follows.

    Where the other face of the wall is outer surface too, as in open profiles, the contours there come after it.
    (x, s) is the middle of the first contour's extent, `offset` that place from the middle of its flat, along s; 0 on
    round walls. `towards` is the way the surface faces there, and `face` names it. `length` is the extent along the
    tube, `width` round it; a round hole has its `diameter`, a slot the one of its ends, others 0. `bevel` says how far
    the cut faces lean from square to the surface, at most.

    Raises:
        BadValue: no contour, or a measure that is no number.
    """

    kind: CutOutKind
    face: str
    x: Mm
    s: Mm
    offset: Mm
    towards: Deg
    length: Mm
    width: Mm
    contours: tuple[Contour, ...]
    diameter: Mm = 0.0
    bevel: Deg = 0.0

    def __post_init__(self) -> None:
        numbers = (self.x, self.s, self.offset, self.towards, self.length, self.width, self.diameter, self.bevel)
        if not (self.contours and all(math.isfinite(value) for value in numbers)):
            raise BadValue("CutOut: a contour is needed, and measures must be numbers.")

    def __str__(self) -> str:
        """In words: "round hole ⌀ 12 mm, top, 100 mm from the start"."""
        size = f"⌀ {_plain(self.diameter)}" if self.kind is CutOutKind.ROUND else (
            f"{_plain(self.length)} x {_plain(self.width)}"
        )  # fmt: skip
        beside = f", {_plain(self.offset)} mm beside its middle" if abs(self.offset) > 0.005 else ""
        return f"{self.kind} {size} mm, {self.face}{beside}, {_plain(self.x)} mm from the start"


SIDES = ("back", "top", "front", "bottom")
"""What faces +y, +z, -y and -z when the tube is looked at with its start on the left."""


def side_words(towards: Deg) -> str:
    """Such as "at the top", or the angle from the top where it is none of the four sides."""
    quarter, rest = divmod(towards + 0.05, 90.0)
    if rest < 0.1:
        return f"at the {SIDES[int(quarter) % 4]}"
    turned = (towards - 90.0) % 360.0
    side = SIDES[2] if turned <= 180.0 else SIDES[0]
    return f"{_plain(turned if turned <= 180.0 else 360.0 - turned)}° from the top towards the {side}"


def _plain(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
