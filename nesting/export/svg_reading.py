"""The picture of what was understood of a file, with numbered pins where something was found.

Pin 3 is the third finding of the reading (`data-finding="3"`), so a list beside the picture can carry the same numbers.
Findings without a place have no pin.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from contextlib import suppress

from nesting.errors import BadValue
from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_part import part_svg
from nesting.export.svg_paths import View, escaped, measure, number, path_data, picture, point, text
from nesting.export.svg_tube_views import sides_svg
from nesting.geometry.contour import Bounds, Contour, Path
from nesting.geometry.placing import placed
from nesting.model.findings import Finding
from nesting.model.part import SheetPart, TubePart
from nesting.model.reading import Reading
from nesting.units import SAME_POINT, Mm, Point

ALIKE = 1e-9
"""Relative difference of area up to which two contours are the same one, moved."""

SMALLEST_LETTER: Mm = 0.05
"""Keeps the picture of a speck from being rounded away."""

MOST_PINS = 200
"""More pins than this hide the drawing; the list beside it still names every finding."""


def reading_svg(reading: Reading) -> str:
    """The drawing with its pins; the first part from side and end for tube; "" where there is nothing to show."""
    tubes = [part for part in reading.parts if isinstance(part, TubePart)]
    if tubes and not reading.sketch:
        # Places of findings are on the only tube; of several none says which.
        only = len(tubes) == 1 and tubes[0].ends is not None
        return sides_svg(tubes[0], reading.findings) if only else part_svg(tubes[0])
    shapes = [part for part in reading.parts if isinstance(part, SheetPart)]
    extents = [path.bounds for path in reading.sketch]
    if not extents:
        return part_svg(shapes[0]) if shapes else ""
    drawn = extents[0]
    for each in extents[1:]:
        drawn = drawn.joined(each)
    with_place = [(i, f, f.at) for i, f in enumerate(reading.findings, 1) if f.at is not None]
    pinned = [each for each in with_place if _near(each[2], drawn)][:MOST_PINS]
    letter = max(max(drawn.width, drawn.height) / 28.0, SMALLEST_LETTER)
    body = [_part(part, x, y) for part, x, y in in_the_drawing(shapes, reading.sketch)]
    body.append(f'<path class="sketch" d="{path_data(reading.sketch)}"/>')
    if drawn.width:
        body.append(across(drawn.left, drawn.right, drawn.bottom - 2.4 * letter, letter, from_y=drawn.bottom))
    if drawn.height:
        body.append(upright(drawn.bottom, drawn.top, drawn.left - 1.4 * letter, letter, from_x=drawn.left))
    body += _pins(pinned, drawn, letter)
    view = View.around(drawn, 3.4 * letter, 3.4 * letter, 3.4 * letter, 3.4 * letter)
    words = f"{measure(drawn.width)} wide, {measure(drawn.height)} high. "
    words += f"{len(reading.findings)} findings, {len(pinned)} of them marked."
    return picture("reading-picture", view, "What was read from the file", words, body)


def in_the_drawing(parts: Sequence[SheetPart], sketch: Sequence[Path]) -> list[tuple[SheetPart, Mm, Mm]]:
    """The parts with the shift that puts them back where they stand in the drawing.

    A reader gives parts in coordinates of their own, so each is found again by the extent and area of its outer
    contour; equal parts take the places of equal rings in turn. A part that is not found is left out.
    """
    rings = []
    for path in sketch:
        if isinstance(path, Contour):
            rings.append(path)
        elif len(path.vertices) > 2 and math.dist(path.vertices[0][:2], path.vertices[-1][:2]) <= SAME_POINT:
            with suppress(BadValue):
                rings.append(Contour(path.vertices[:-1]))
    rings.sort(key=lambda ring: ring.area)
    areas = [ring.area for ring in rings]
    found, taken = [], set()
    for part in parts:
        own, area = part.bounds, part.outer.area
        for i in range(bisect_left(areas, area * (1.0 - ALIKE)), bisect_right(areas, area * (1.0 + ALIKE))):
            ring = rings[i].bounds
            if i not in taken and math.dist((ring.width, ring.height), (own.width, own.height)) < SAME_POINT:
                taken.add(i)
                found.append((part, ring.left - own.left, ring.bottom - own.bottom))
                break
    return found


def _part(part: SheetPart, x: Mm, y: Mm) -> str:
    outline = path_data(placed(contour, x, y) for contour in (part.outer, *part.holes))
    marks = path_data(placed(mark, x, y) for mark in part.marks)
    return (
        f'<g class="piece k1" data-part="{escaped(part.name)}"><title>{escaped(part.name)}</title>'
        f'<path fill-rule="evenodd" d="{outline}"/></g>' + (f'<path class="marks" d="{marks}"/>' if marks else "")
    )


def _near(at: Point, drawn: Bounds) -> bool:
    """Whether a place lies on or close to the drawing, so that a pin there does not shrink it to a dot."""
    room = 0.1 * max(drawn.width, drawn.height)
    return drawn.left - room <= at[0] <= drawn.right + room and drawn.bottom - room <= at[1] <= drawn.top + room


def _pins(pinned: list[tuple[int, Finding, Point]], drawn: Bounds, letter: Mm) -> list[str]:
    heads: list[Point] = []
    drawings = []
    for i, finding, at in pinned:
        head = _head(at, heads, letter)
        heads.append(head)
        drawings.append(_pin(i, finding, at, head, letter))
    return drawings


def _head(at: Point, heads: list[Point], letter: Mm) -> Point:
    """The middle of a pin's head: up and to the right, else round about, else further out, clear of other heads."""
    for reach in (1.9, 3.4, 4.9):
        for turn in (45, 135, -45, -135, 90, 0, 180, -90):
            x = at[0] + reach * letter * math.cos(math.radians(turn))
            y = at[1] + reach * letter * math.sin(math.radians(turn))
            if all(math.hypot(x - a, y - b) > 1.9 * letter for a, b in heads):
                return x, y
    return at[0] + 1.3 * letter, at[1] + 1.3 * letter


def _pin(i: int, finding: Finding, at: Point, head: Point, letter: Mm) -> str:
    size = letter if i < 100 else 0.75 * letter
    return (
        f'<g class="pin {finding.severity.value}" data-finding="{i}" tabindex="0">'
        f"<title>{i}. {escaped(finding.message)}</title>"
        f'<path d="M{point(*at)}L{point(*head)}"/>{_ring(at, 0.3 * letter, "place")}{_ring(head, 0.85 * letter)}'
        f"{text(head[0], head[1], size, str(i))}</g>\n"
    )


def _ring(middle: Point, radius: Mm, css: str = "") -> str:
    style = f' class="{css}"' if css else ""
    return f'<circle{style} cx="{number(middle[0])}" cy="{number(-middle[1])}" r="{number(radius)}"/>'
