"""How much of a sheet a part takes up, more or less, and how much a sheet offers, by the same measure.

A part with half a gap all round takes that area for itself, and some of the room between it and its hull, because not
much goes beside a bent arm. Windows count as covered: what lies in them is taken off before.
"""

from shapely.geometry import Polygon

from nesting.geometry.contour import Bounds
from nesting.geometry.fewer_corners import fewer_corners
from nesting.model.part import SheetPart
from nesting.units import CHORD, Mm, Mm2

HULL_SHARE = 0.25
"""The share of the hull in a part's bulk. Tried on bent and on compact parts: their sheets then fill alike."""


def bulk_of(part: SheetPart, gap: Mm) -> Mm2:
    outline, _ = fewer_corners(Polygon(part.outer.polygon(CHORD, "on")))
    own = float(outline.buffer(gap / 2.0, join_style="mitre", mitre_limit=2.0).area) if gap else part.outer.area
    hull = outline.convex_hull
    around = float(hull.buffer(gap / 2.0, join_style="mitre", mitre_limit=2.0).area) if gap else float(hull.area)
    return (1.0 - HULL_SHARE) * own + HULL_SHARE * max(own, around)


def room_of(usable: Bounds, gap: Mm) -> Mm2:
    """What a usable rectangle offers to bulks: half a gap of each part may lie outside it."""
    return (usable.width + gap) * (usable.height + gap)
