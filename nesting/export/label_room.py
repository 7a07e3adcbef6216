"""Where a label fits inside a part: the widest box of a given shape that stays on metal.

The search is not exact and errs to the small side: a box it gives lies wholly on the part, but a larger one may exist.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import cast

import shapely
from shapely.affinity import rotate
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.prepared import prep

from nesting.geometry.contour import Contour
from nesting.model.part import SheetPart
from nesting.units import CHORD, Deg, Mm, Point

HALVINGS = 14
"""Steps of the search for the largest box: the size is found to 1 in 16,000 of the part."""


CLEARLY = 1.1
"""A later place or turn is taken only where the label grows by this factor: labels stay where one expects them."""

OTHER_PLACES = 4
"""How many further wide places of a part are tried."""


@dataclass(frozen=True)
class LabelSpot:
    """The middle of a box `height` tall, turned by `turn` anticlockwise, in the part's own coordinates."""

    x: Mm
    y: Mm
    turn: Deg
    height: Mm


class LabelRoom:
    """The room for labels in one part; built once, asked for several labels."""

    def __init__(self, part: SheetPart) -> None:
        self._metal = _metal(part)
        self._prepared = prep(self._metal)
        (self._x, self._y), self.radius = _widest_place(self._metal)

    @cached_property
    def _further_places(self) -> list[Point]:
        """Other wide places: a frame or ring is as wide in several, and a label may lie along only one of them."""
        places: list[Point] = []
        rest: BaseGeometry = self._metal
        (x, y), radius = (self._x, self._y), self.radius
        for _ in range(OTHER_PLACES):
            rest = rest.difference(shapely.Point(x, y).buffer(max(radius, self.radius / 10.0)))
            if rest.is_empty:
                break
            (x, y), radius = _widest_place(rest)
            places.append((x, y))
        points = (self._metal.centroid, self._metal.representative_point())
        return places + [(point.x, point.y) for point in points if self._metal.contains(point)]

    def in_circle(self, aspect: float, tallest: Mm) -> LabelSpot:
        """A box that fits at any turn: inside the largest circle that the part can hold."""
        return LabelSpot(self._x, self._y, 0.0, min(tallest, 2.0 * self.radius / math.hypot(aspect, 1.0)))

    def widest(self, aspect: float, tallest: Mm, turns: Sequence[Deg]) -> LabelSpot:
        """The tallest box, `aspect` times as wide as tall, at one of the turns; the first turn wins a near tie."""
        best = LabelSpot(self._x, self._y, turns[0], 0.0)
        for turn in turns:
            for x, y in self._places():
                height = self._tallest_at(x, y, turn, aspect, tallest, best.height * CLEARLY)
                if height:
                    best = LabelSpot(x, y, turn, height)
                if height >= tallest:
                    return best
        return best

    def _places(self) -> Iterator[Point]:
        """The widest place, and the others only where that did not do."""
        yield self._x, self._y
        yield from self._further_places

    def _tallest_at(self, x: Mm, y: Mm, turn: Deg, aspect: float, tallest: Mm, least: Mm) -> Mm:
        """The height of the tallest box round (x, y), or 0 where that is not above `least`."""
        if self._fits(x, y, turn, aspect, tallest):
            return tallest
        if least and (least >= tallest or not self._fits(x, y, turn, aspect, least)):
            return 0.0
        low, high = least, tallest
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            if self._fits(x, y, turn, aspect, middle):
                low = middle
            else:
                high = middle
        return low

    def _fits(self, x: Mm, y: Mm, turn: Deg, aspect: float, height: Mm) -> bool:
        wide, tall = height * aspect / 2.0, height / 2.0
        if turn % 180.0 == 90.0:
            wide, tall = tall, wide
        label = box(x - wide, y - tall, x + wide, y + tall)
        if turn % 90.0:
            label = rotate(label, turn, origin=(x, y))
        return bool(self._prepared.covers(label))


def _widest_place(area: BaseGeometry) -> tuple[Point, Mm]:
    """Middle and radius of the largest circle in an area, the radius on the small side."""
    bounds = area.bounds
    near = max(bounds[2] - bounds[0], bounds[3] - bounds[1]) / 200.0
    circle = shapely.maximum_inscribed_circle(cast(Polygon, area), near)
    (x, y), (x2, y2) = circle.coords
    return (x, y), math.hypot(x2 - x, y2 - y)


def _metal(part: SheetPart) -> Polygon:
    """The part as a polygon that lies wholly on metal; of a part that crosses itself, the largest piece."""
    outer = _ring(part.outer, inwards=True)
    metal: BaseGeometry = outer
    for hole in part.holes:
        metal = metal.difference(_ring(hole, inwards=False))
    if isinstance(metal, MultiPolygon):
        metal = max(metal.geoms, key=lambda each: each.area)
    return metal if isinstance(metal, Polygon) and not metal.is_empty else outer


def _ring(contour: Contour, *, inwards: bool) -> Polygon:
    height = min(CHORD, max(contour.bounds.width, contour.bounds.height) / 100.0)
    polygon = Polygon(contour.polygon(height, "inwards" if inwards else "outwards"))
    if polygon.is_valid:
        return polygon
    pieces = [each for each in shapely.get_parts(shapely.make_valid(polygon)) if isinstance(each, Polygon)]
    return max(pieces, key=lambda each: each.area, default=box(*polygon.bounds))
