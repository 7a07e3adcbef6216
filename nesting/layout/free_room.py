"""A sheet job around pieces that stay where they are: what is left free of their sheets becomes odd-shaped stock.

The free room of a sheet is what lies a margin inside its edge and a gap away from every piece that stays. So the job
around has no margin of its own; all its sheets, those without pieces too, are drawn in by the margin instead. A room
round a piece in the middle of a sheet is slit open, and no part can lie across the slit: some room is given away, none
is taken that is not free.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.geometry.fewer_corners import fewer_corners
from nesting.geometry.placing import placed
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import CHECK_SLACK, CHORD, Mm, Mm2

SMOOTH: Mm = 0.1
"""How far the outline of a room may be made simpler; engines take long over thousands of corners."""

CORNER_CHORDS = 8
"""Chords for a quarter of a turn round a corner of a piece."""

SLIT: Mm = 0.02
"""Half the width of a slit."""

JOINT = ", room "


@dataclass(frozen=True)
class JobAround:
    """`job` asks for what does not stay; `rooms` maps names of its stock to the index in `fixed`."""

    job: SheetJob
    rooms: dict[str, int]


def job_around(
    job: SheetJob, fixed: Sequence[SheetLayout], kept_free: Sequence[Contour | None] | None = None
) -> JobAround:
    """The job for the parts that are not among the `fixed` layouts' placements, on what is left of those sheets and on
    the sheets that they do not use. `kept_free` is for each layout an area that stays free, if any.

    Raises:
        BadValue: a fixed layout is on stock, or has a part, that the job does not have.
    """
    sheets = {sheet.name: sheet for sheet in job.stock}
    parts = {demand.part.name: demand.part for demand in job.demands}
    for layout in fixed:
        strangers = [p.part for p in layout.placements if p.part not in parts]
        if strangers or layout.stock not in sheets:
            raise BadValue(f"The pieces that stay: the job has no {strangers[0] if strangers else layout.stock!r}.")
    rooms: dict[str, int] = {}
    stock: list[Sheet] = []
    used: dict[str, int] = {}
    staying = _counts(fixed)
    demands = tuple(_less(demand, staying.get(demand.part.name, 0)) for demand in job.demands)
    least = min((d.part.area for d in demands if d.count), default=0.0)
    # Far enough that the chords of a round corner, made simpler, still keep the gap.
    reach = job.rules.gap / math.cos(math.pi / (4 * CORNER_CHORDS)) + SMOOTH + CHECK_SLACK
    for index, layout in enumerate(fixed):
        used[layout.stock] = used.get(layout.stock, 0) + layout.copies
        free = _drawn_in(sheets[layout.stock], job.rules.margin)
        taken = [_kept_off(_metal(parts[p.part], p), reach) for p in layout.placements]
        free = free.difference(shapely.union_all(taken))
        kept = kept_free[index] if kept_free is not None else None
        if kept is not None:
            free = free.difference(Polygon(kept.polygon(CHORD, "outwards")))
        found = sorted(_plain(free, least), key=lambda room: -room.area)
        # Every copy of a sheet must come out alike, so of a repeated one only the largest room is offered.
        for number, room in enumerate(found if layout.copies == 1 else found[:1], 1):
            name = f"{layout.stock}{JOINT}{index + 1}.{number}"
            rooms[name] = index
            stock.append(Sheet(name, _contour(room), layout.copies, 0.0, is_remnant=True))
    for sheet in job.stock:
        left = None if sheet.count is None else sheet.count - used.get(sheet.name, 0)
        area = max(_plain(_drawn_in(sheet, job.rules.margin), 0.0), key=lambda room: room.area, default=None)
        if area is not None and (left is None or left > 0):
            stock.append(Sheet(sheet.name, _contour(area), left, sheet.price, is_remnant=True))
    return JobAround(SheetJob(tuple(stock), replace(job.rules, margin=0.0), demands), rooms)


def nest_with_fixed(job: SheetJob, fixed: Sequence[SheetLayout], around: JobAround, answer: SheetNest) -> SheetNest:
    """The answer to the job around, joined with the pieces that stay: an answer to the job itself, not checked and
    without its bound.
    """
    added: list[list[Placement]] = [[] for _ in fixed]
    layouts: list[SheetLayout] = []
    unused = [layout.copies for layout in fixed]
    for layout in answer.layouts:
        index = around.rooms.get(layout.stock)
        if index is None:
            layouts.append(layout)
        elif fixed[index].copies == 1:
            added[index] += layout.placements
        else:
            together = (*fixed[index].placements, *layout.placements)
            layouts.append(replace(fixed[index], placements=together, copies=layout.copies))
            unused[index] -= layout.copies
    kept = [
        replace(layout, placements=(*layout.placements, *added[index]), copies=unused[index])
        for index, layout in enumerate(fixed)
        if unused[index]
    ]
    return replace(answer, job=job, layouts=(*kept, *layouts), proven_optimal=False, bound=None)


def _less(demand: Demand[SheetPart], staying: int) -> Demand[SheetPart]:
    """The demand without those that stay."""
    count = max(0, demand.count - staying)
    most = None if demand.fill_up_to is None else max(count, demand.fill_up_to - staying)
    return replace(demand, count=count, fill_up_to=most)


def _counts(layouts: Iterable[SheetLayout]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for layout in layouts:
        for p in layout.placements:
            counts[p.part] = counts.get(p.part, 0) + layout.copies
    return counts


def _drawn_in(sheet: Sheet, margin: Mm) -> BaseGeometry:
    area = Polygon(sheet.outline.anticlockwise().polygon(CHORD, "inwards"))
    return area.buffer(-margin, join_style="mitre") if margin else area


def _metal(part: SheetPart, p: Placement) -> Polygon:
    outer = placed(part.outer, p.x, p.y, p.turn, mirrored=p.mirrored)
    holes = [placed(hole, p.x, p.y, p.turn, mirrored=p.mirrored) for hole in part.holes]
    return Polygon(outer.polygon(CHORD, "outwards"), [hole.polygon(CHORD, "inwards") for hole in holes])


def _kept_off(metal: Polygon, reach: Mm) -> BaseGeometry:
    shape, moved = fewer_corners(metal)
    return shape.buffer(reach + moved, quad_segs=CORNER_CHORDS).simplify(SMOOTH)


def _plain(area: BaseGeometry, least: Mm2) -> list[Polygon]:
    """Polygons without holes, of more than that area, that fill the area but for slits from each hole outwards."""
    waiting = [each for each in shapely.get_parts(area) if isinstance(each, Polygon)]
    plain: list[Polygon] = []
    while waiting:
        room = waiting.pop()
        if room.area <= least:
            continue
        if not room.interiors:
            plain.append(room)
            continue
        hole = min(room.interiors, key=lambda ring: ring.distance(room.exterior))
        way = shapely.shortest_line(Polygon(hole), room.exterior)
        slit = LineString(way.coords).buffer(SLIT, cap_style="square", quad_segs=1)
        waiting += [each for each in shapely.get_parts(room.difference(slit)) if isinstance(each, Polygon)]
    return plain


def _contour(room: Polygon) -> Contour:
    return Contour(tuple((x, y, 0.0) for x, y in room.exterior.coords[:-1]))
