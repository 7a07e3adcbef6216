"""Whether a part has room at all on a sheet of odd outline, such as an L-shaped remnant.

Only a clear no counts: the part is taken a hair smaller and the sheet a hair larger than they are, so a part that fits
exactly is never turned away. What this lets pass may still find no room.
"""

import importlib
from typing import Any

import shapely
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.layout.free_rectangle import usable_area
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import CHORD, Deg, Mm

pyclipper: Any = importlib.import_module("pyclipper")
"""Without type stubs, so imported past the type checker."""

PER_MM = 1000
"""Units of the integer library in a millimetre."""

HAIR: Mm = 0.01
"""By how much the sheet is taken larger."""

FEW_CORNERS = 60
"""A part with more corners is shrunk by up to SHRUNK to have fewer."""

SHRUNK: Mm = 0.2


def may_have_room(part: SheetPart, turns: tuple[Deg, ...], sheet: Sheet, margin: Mm, *, mirror: bool) -> bool:
    """Whether there may be a place for the part in any of the turns.

    The part leaves the sheet exactly where its edge meets the sheet's edge. The places of one of its corners where
    that happens are the sheet's edge swept with the part turned about (a Minkowski sum); what is left of the sheet
    without them is where the corner may lie.
    """
    area = usable_area(sheet.outline, margin)
    area = area.buffer(HAIR, join_style="mitre")
    pieces = [piece for piece in shapely.get_parts(area) if isinstance(piece, Polygon) and not piece.is_empty]
    for turn in turns:
        for mirrored in (False, True) if mirror else (False,):
            ring = _light(placed(part.outer, 0.0, 0.0, turn, mirrored=mirrored))
            if any(_has_place(piece, ring) for piece in pieces):
                return True
    return False


def _has_place(piece: Polygon, ring: list[tuple[float, float]]) -> bool:
    x0, y0 = ring[0]
    edge = [(round(x * PER_MM), round(y * PER_MM)) for x, y in piece.exterior.coords[:-1]]
    pattern = [(round((x0 - x) * PER_MM), round((y0 - y) * PER_MM)) for x, y in ring]
    swept = pyclipper.MinkowskiSum(pattern, edge, True)
    clipper = pyclipper.Pyclipper()
    clipper.AddPath(edge, pyclipper.PT_SUBJECT, True)
    clipper.AddPaths(swept, pyclipper.PT_CLIP, True)
    left = clipper.Execute(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return bool(left)


def _light(ring: Contour) -> list[tuple[float, float]]:
    """Points of a polygon within the ring, few of them."""
    points = ring.polygon(CHORD, "inwards")
    if len(points) <= FEW_CORNERS:
        return points
    shrunk = Polygon(points).buffer(-SHRUNK / 2.0).simplify(SHRUNK / 2.0)
    if not isinstance(shrunk, Polygon) or shrunk.is_empty:
        return points
    return [(float(x), float(y)) for x, y in shrunk.exterior.coords[:-1]]
