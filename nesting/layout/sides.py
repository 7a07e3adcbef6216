"""Takes the strips that rules keep free along a sheet's sides off the sheets, so that engines need know no strips.

What is left is a sheet of the same name and price with an outline drawn in, for rules without strips.
"""

from dataclasses import replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Bounds, Contour
from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.model.nest import SheetJob, SheetRules, Sides
from nesting.model.stock import Sheet
from nesting.units import CHORD


def inside_sides(outline: Contour, rules: SheetRules) -> Bounds:
    """What the strips leave of the outline's bounds. The margin is not taken off: it is kept from what is left, so a
    strip no wider than the margin takes nothing.
    """
    b, sides, margin = outline.bounds, rules.sides, rules.margin
    left, bottom, right, top = (max(0.0, side - margin) for side in (sides.left, sides.bottom, sides.right, sides.top))
    return Bounds(b.left + left, b.bottom + bottom, b.right - right, b.top - top)


def without_sides(job: SheetJob) -> SheetJob:
    """The job on sheets without their strips. Sheets of which nothing is left stay in it with a count of 0, so that
    it is still known that they are there.
    """
    if not job.rules.sides:
        return job
    stock = tuple(_drawn_in(sheet, inside_sides(sheet.outline, job.rules)) for sheet in job.stock)
    return replace(job, stock=stock, rules=replace(job.rules, sides=Sides()))


def _drawn_in(sheet: Sheet, inner: Bounds) -> Sheet:
    if inner == sheet.outline.bounds:
        return sheet
    if inner.width <= 0 or inner.height <= 0:
        return replace(sheet, count=0)
    # Not from the origin any more, so it is told as an outline.
    if is_upright_rectangle(sheet.outline):
        outline = Contour.rectangle(inner.width, inner.height, inner.left, inner.bottom)
        return replace(sheet, outline=outline, cost=sheet.price, is_remnant=True)
    area = Polygon(sheet.outline.polygon(CHORD, "inwards"))
    if not area.is_valid:
        return sheet
    left = area.intersection(shapely.box(inner.left, inner.bottom, inner.right, inner.top))
    largest = max((each for each in shapely.get_parts(left) if isinstance(each, Polygon)), key=_area, default=Polygon())
    if largest.is_empty:
        return replace(sheet, count=0)
    outline = Contour(tuple((x, y, 0.0) for x, y in largest.exterior.coords[:-1]))
    return replace(sheet, outline=outline, cost=sheet.price, is_remnant=True)


def _area(shape: BaseGeometry) -> float:
    return float(shape.area)
