"""Turns, mirrors and shifts rings and open runs.

A placement takes a shape's own coordinates: mirror in x first, then turn anticlockwise about the origin, then shift.
"""

import math
from typing import overload

from nesting.geometry.contour import Contour, Path
from nesting.units import Deg, Mm


def turn_vector(turn: Deg) -> tuple[float, float]:
    """Cosine and sine of a turn, exact at the quarter turns so that square parts stay square."""
    quarter = turn / 90.0
    if quarter == round(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    angle = math.radians(turn)
    return math.cos(angle), math.sin(angle)


@overload
def placed(shape: Contour, x: Mm, y: Mm, turn: Deg = ..., *, mirrored: bool = ...) -> Contour: ...
@overload
def placed(shape: Path, x: Mm, y: Mm, turn: Deg = ..., *, mirrored: bool = ...) -> Path: ...
def placed(shape: Path, x: Mm, y: Mm, turn: Deg = 0.0, *, mirrored: bool = False) -> Path:
    """The shape where a placement puts it; a mirrored ring is run the other way round, so its direction is kept."""
    cos, sin = turn_vector(turn)
    flip = -1.0 if mirrored else 1.0
    moved = type(shape)(
        tuple(
            (flip * vx * cos - vy * sin + x, flip * vx * sin + vy * cos + y, flip * b) for vx, vy, b in shape.vertices
        )
    )
    return moved.reversed() if mirrored and isinstance(moved, Contour) else moved
