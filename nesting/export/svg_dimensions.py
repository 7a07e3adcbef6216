"""Dimension lines for pictures: a thin line between two short ones, with the measure written along it.

Oblique strokes end the line, one of the ends that ISO 129-1 allows (from memory): they stay clear at every size.
"""

from nesting.export.svg_paths import measure, number, text
from nesting.units import Mm


def across(left: Mm, right: Mm, y: Mm, size: Mm, *, from_y: Mm, words: str = "") -> str:
    """A dimension along x at height `y`, with extension lines from `from_y`; text of `size` above the line."""
    words = words or measure(right - left)
    path = (
        _line(left, y, right, y) + _extension(left, from_y, left, y, size) + _extension(right, from_y, right, y, size)
    )
    path += _stroke(left, y, size) + _stroke(right, y, size)
    return f'<path class="thin" d="{path}"/>{text((left + right) / 2.0, y + 0.75 * size, size, words)}'


def upright(bottom: Mm, top: Mm, x: Mm, size: Mm, *, from_x: Mm, words: str = "") -> str:
    """A dimension along y at `x`, with extension lines from `from_x`; text of `size` left of the line, reading up."""
    words = words or measure(top - bottom)
    path = (
        _line(x, bottom, x, top) + _extension(from_x, bottom, x, bottom, size) + _extension(from_x, top, x, top, size)
    )
    path += _stroke(x, bottom, size) + _stroke(x, top, size)
    label = text(x - 0.75 * size, (bottom + top) / 2.0, size, words, turn=90.0)
    return f'<path class="thin" d="{path}"/>{label}'


def _line(x1: Mm, y1: Mm, x2: Mm, y2: Mm) -> str:
    return f"M{number(x1)} {number(-y1)}L{number(x2)} {number(-y2)}"


def _extension(x1: Mm, y1: Mm, x2: Mm, y2: Mm, size: Mm) -> str:
    """From a little off the edge to a little past the dimension line."""
    gap = 0.3 * size
    dx, dy = (x2 > x1) - (x2 < x1), (y2 > y1) - (y2 < y1)
    return _line(x1 + dx * gap, y1 + dy * gap, x2 + dx * gap, y2 + dy * gap)


def _stroke(x: Mm, y: Mm, size: Mm) -> str:
    half = 0.25 * size
    return _line(x - half, y - half, x + half, y + half)
