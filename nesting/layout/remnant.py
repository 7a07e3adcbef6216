"""The usable off-cut of a layout: what is left in one piece at the end of a sheet or bar, large enough to keep.

Its size includes the margin or dead end: that is metal like the rest, and the next layout keeps off it by itself.
"""

import math

import shapely
from shapely.geometry import Polygon

from nesting.geometry.contour import Bounds, Contour
from nesting.layout.free_rectangle import is_upright_rectangle, largest_rectangle
from nesting.layout.score import Extents
from nesting.model.nest import BarNest, SheetNest
from nesting.units import CHORD, Mm, Mm2

LEAST_SIDE: Mm = 300.0
"""An off-cut narrower than this is scrap. Common practice, no source: shops keep from 300 to 500 mm."""

LEAST_AREA: Mm2 = 100_000.0
"""An off-cut smaller than this is scrap. Common practice, no source: shops keep from 0.1 to 0.25 m²."""

LEAST_LENGTH: Mm = 300.0
"""An off-cut of bar shorter than this is scrap. Common practice, no source."""


def sheet_remnant(
    nest: SheetNest, index: int, least_side: Mm = LEAST_SIDE, least_area: Mm2 = LEAST_AREA
) -> Contour | None:
    """The outline, in the sheet's coordinates, of the largest rectangle left free right of all parts of the layout at
    `index` (from 0) or above them, a gap away from them; None where none is large enough.
    """
    layout = nest.layouts[index]
    outline = next(sheet.outline for sheet in nest.job.stock if sheet.name == layout.stock)
    extents = Extents(nest.job)
    b, gap = outline.bounds, nest.job.rules.gap
    right = max(b.left, extents.right(layout) + gap) if layout.placements else b.left
    top = max(b.bottom, extents.top(layout) + gap) if layout.placements else b.bottom
    rooms = [_free_rectangle(outline, Bounds(right, b.bottom, b.right, b.top))]
    rooms.append(_free_rectangle(outline, Bounds(b.left, top, b.right, b.top)))
    large = [
        room
        for room in rooms
        if room and min(room.width, room.height) >= least_side and room.width * room.height >= least_area
    ]
    best = max(large, key=lambda room: room.width * room.height, default=None)
    return None if best is None else Contour.rectangle(best.width, best.height, best.left, best.bottom)


def _free_rectangle(outline: Contour, part: Bounds) -> Bounds | None:
    """The largest rectangle of the sheet within a part of its bounds."""
    if part.width <= 0 or part.height <= 0:
        return None
    if is_upright_rectangle(outline):
        return part
    area = Polygon(outline.anticlockwise().polygon(CHORD, "inwards"))
    if not area.is_valid:
        return None
    free = area.intersection(shapely.box(part.left, part.bottom, part.right, part.top))
    found = [each for each in map(largest_rectangle, shapely.get_parts(free)) if each is not None]
    return max(found, key=lambda each: each.width * each.height, default=None)


def bar_remnant(nest: BarNest, index: int, least_length: Mm = LEAST_LENGTH) -> Mm | None:
    """The length left at the far end of the bar at `index` (from 0), a gap behind its last piece; None if too short."""
    layout = nest.layouts[index]
    bar = next(bar for bar in nest.job.stock if bar.name == layout.stock)
    length = {demand.part.name: demand.part.length for demand in nest.job.demands}
    end = max((piece.start + length[piece.part] for piece in layout.pieces), default=-math.inf)
    left = bar.length - max(0.0, end + nest.job.rules.gap)
    return left if left >= least_length else None
