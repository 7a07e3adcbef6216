"""Whether a part has room at all on a sheet of odd outline, such as an L-shaped remnant.

Only a clear no counts: the part is taken a hair smaller and the sheet a hair larger than they are, so a part that fits
exactly is never turned away. What this lets pass may still find no room.
"""

import importlib
from typing import Any

import shapely
from shapely.geometry import Polygon

from nesting.geometry.fewer_corners import MOST_CORNERS
from nesting.geometry.placing import placed
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import CHORD, Deg, Mm

pyclipper: Any = importlib.import_module("pyclipper")
"""Without type stubs, so imported past the type checker."""

PER_MM = 1000
"""Units of the integer library in a millimetre."""

HAIR: Mm = 0.01
"""By how much the sheet is taken larger."""

FEW_CORNERS = 24
"""A part or sheet with more corners is taken smaller or larger until it has fewer: the time grows with the square of
their product (measured: 10 ms a turn at this, minutes at thousands).
"""

SMALLEST_MOVE: Mm = 0.125

MOST_MOVED: Mm = 16.0
"""An outline that does not get light within this is not judged."""


def may_have_room(part: SheetPart, turns: tuple[Deg, ...], sheet: Sheet, margin: Mm, *, mirror: bool) -> bool:
    """Whether there may be a place for the part in any of the turns.

    The part leaves the sheet exactly where its edge meets the sheet's edge. The places of one of its corners where
    that happens are the sheet's edge swept with the part turned about (a Minkowski sum); what is left of the sheet
    without them is where the corner may lie.
    """
    area = Polygon(sheet.outline.polygon(CHORD, "outwards")).buffer(HAIR - margin)
    pieces = [
        _light(piece, 1.0) for piece in shapely.get_parts(area) if isinstance(piece, Polygon) and not piece.is_empty
    ]
    for turn in turns:
        for mirrored in (False, True) if mirror else (False,):
            ring = placed(part.outer, 0.0, 0.0, turn, mirrored=mirrored)
            light = _light(Polygon(ring.polygon(CHORD, "inwards")), -1.0)
            if light is None or any(piece is None or _has_place(piece, light) for piece in pieces):
                return True
    return False


def _has_place(piece: Polygon, part: Polygon) -> bool:
    x0, y0 = part.exterior.coords[0]
    edge = [(round(x * PER_MM), round(y * PER_MM)) for x, y in piece.exterior.coords[:-1]]
    pattern = [(round((x0 - x) * PER_MM), round((y0 - y) * PER_MM)) for x, y in part.exterior.coords[:-1]]
    swept = pyclipper.MinkowskiSum(pattern, edge, True)
    clipper = pyclipper.Pyclipper()
    clipper.AddPath(edge, pyclipper.PT_SUBJECT, True)
    clipper.AddPaths(swept, pyclipper.PT_CLIP, True)
    left = clipper.Execute(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return bool(left)


def _light(shape: Polygon, way: float) -> Polygon | None:
    """A polygon with few corners round the shape (`way` 1) or within it (`way` -1); None where there is none near."""
    if len(shape.exterior.coords) - 1 <= FEW_CORNERS:
        return shape
    move = SMALLEST_MOVE
    while move <= MOST_MOVED:
        # What the simpler outline strays from the true one, before and after it is moved, is no more than it is moved.
        simpler = shape.simplify(move / 2.0)
        if isinstance(simpler, Polygon) and len(simpler.exterior.coords) <= MOST_CORNERS:
            light = simpler.buffer(way * move, join_style="mitre").simplify(move / 2.0)
            if not isinstance(light, Polygon) or light.is_empty:
                return None
            if len(light.exterior.coords) - 1 <= FEW_CORNERS:
                return light
        move *= 2.0
    return None
