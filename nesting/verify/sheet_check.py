"""Says whether a sheet nest may be cut: parts on their sheets, gaps kept, turns allowed, stock and counts right.

Works on the nouns and shapely alone. It errs on the strict side by less than CHECK_SLACK: a fault larger than
CHECK_SLACK is always found, and a nest that keeps every rule exactly is always passed. Where the rules leave no gap or
margin, touching is right and reaching into each other by more than CHECK_SLACK is not.
"""

import math
from collections import Counter
from collections.abc import Container, Iterator, Mapping, Sequence
from itertools import islice

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.model.findings import Finding, Severity
from nesting.model.nest import Placement, SheetJob, SheetLayout, SheetNest
from nesting.model.part import Turns
from nesting.model.stock import Sheet
from nesting.units import CHECK_SLACK, Mm, Point
from nesting.verify.counts import count_faults, stock_faults
from nesting.verify.metal import COARSE, FINE, MetalOfParts, Shapes, outline_polygon
from nesting.verify.sheet_rules import kind_faults, side_faults

SAME_TURN = 1e-6
"""Degrees within which two turns are one: 0.02 um at 1 m."""

MOST_SHOWN = 50
"""Faults of place reported for one sheet. A nest with more is useless anyway, and all pairs of 5,000 parts laid on one
heap would be twelve million sentences."""

CHUNK = 256
"""Parts whose neighbours are looked up, and pairs that are measured, at once: a heap of parts must not fill memory."""


def check_sheets(nest: SheetNest) -> tuple[Finding, ...]:
    """The faults of the nest; none means that it keeps its job's rules. Each names the sheet (counted from 1), what is
    wrong and, where it has one, the place on that sheet.
    """
    metal = MetalOfParts([demand.part for demand in nest.job.demands])
    faults = [
        *stock_faults("sheet", nest.layouts, {sheet.name: sheet.count for sheet in nest.job.stock}),
        *count_faults(
            {demand.part.name: demand.count for demand in nest.job.demands},
            _placed(nest.layouts),
            nest.unplaced,
            {demand.part.name: demand.most for demand in nest.job.demands},
        ),
    ]
    turns = {demand.part.name: nest.job.turns_of(demand) for demand in nest.job.demands}
    broken = set()
    for name in sorted({p.part for layout in nest.layouts for p in layout.placements} & set(turns)):
        if why := metal.fault_of(name):
            broken.add(name)
            faults.append(_fault("bad-outline", f"{name} is laid, but its contours enclose no proper piece: {why}."))
    # Distances to lines of next to no length divide by nothing within the library; nearer lines then decide.
    with np.errstate(divide="ignore", invalid="ignore"):
        for number, layout in enumerate(nest.layouts, 1):
            for found in _layout_faults(f"Sheet {number}", layout, nest.job, metal, turns, broken):
                faults += _not_too_many(f"Sheet {number}", found)
    return tuple(faults)


def _not_too_many(where: str, found: Iterator[Finding]) -> Iterator[Finding]:
    yield from islice(found, MOST_SHOWN)
    if next(found, None) is not None:
        yield _fault("more-faults", f"{where}: there are more faults of this kind.")


def _placed(layouts: Sequence[SheetLayout]) -> Counter[str]:
    placed: Counter[str] = Counter()
    for layout in layouts:
        for placement in layout.placements:
            placed[placement.part] += layout.copies
    return placed


def _layout_faults(
    where: str,
    layout: SheetLayout,
    job: SheetJob,
    metal: MetalOfParts,
    turns: Mapping[str, Turns],
    broken: Container[str],
) -> Iterator[Iterator[Finding]]:
    """The faults of each kind."""
    yield _turn_faults(where, layout.placements, turns, may_mirror=job.rules.mirror)
    yield kind_faults(where, layout, job.rules)
    sheet = next((sheet for sheet in job.stock if sheet.name == layout.stock), None)
    # What lies nowhere or has no proper shape has been named, and cannot be measured.
    good = [p for p in layout.placements if p.part in turns and p.part not in broken and _lies_somewhere(p)]
    if sheet is not None and good:
        shapes = metal.all_placed(good, COARSE)
        yield _edge_faults(where, sheet, job.rules.margin, good, shapes, metal)
        yield side_faults(where, sheet, job.rules, good, metal)
        yield _pair_faults(where, job.rules.gap, good, shapes, metal)


def _lies_somewhere(p: Placement) -> bool:
    return all(math.isfinite(value) for value in (p.x, p.y, p.turn))


def _turn_faults(
    where: str, placements: Sequence[Placement], turns: Mapping[str, Turns], *, may_mirror: bool
) -> Iterator[Finding]:
    """Parts that lie nowhere, or not as they may be turned."""
    for p in placements:
        if not _lies_somewhere(p):
            yield _fault("not-a-number", f"{where}: {p.part} lies at {p.x}, {p.y}, turned by {p.turn}.")
            continue
        at = (p.x, p.y)
        if p.part in turns and not _is_allowed(p.turn, turns[p.part]):
            yield _fault("turn-not-allowed", f"{where}: {p.part} is turned by {p.turn:g} degrees.", at)
        if p.mirrored and not may_mirror:
            yield _fault("mirror-not-allowed", f"{where}: {p.part} is mirrored.", at)


def _is_allowed(turn: float, turns: Turns) -> bool:
    return turns == "any" or any(abs((turn - allowed + 180.0) % 360.0 - 180.0) <= SAME_TURN for allowed in turns)


def _edge_faults(
    where: str, sheet: Sheet, margin: Mm, placements: Sequence[Placement], shapes: Shapes, metal: MetalOfParts
) -> Iterator[Finding]:
    """Parts that leave the sheet or come nearer to its edge than the margin."""
    area = outline_polygon(sheet.outline)
    if not area.is_valid:
        why = shapely.is_valid_reason(area)
        yield _fault("bad-outline", f"{where}: the outline of {sheet.name} encloses no proper area: {why}.")
        return
    edge = area.exterior
    allowed = area if margin > CHECK_SLACK else area.buffer(CHECK_SLACK - margin, join_style="mitre")
    shapely.prepare([allowed, edge])

    def kept(some: Shapes) -> npt.NDArray[np.bool_]:
        inside = shapely.covers(allowed, some)
        return inside & ~shapely.dwithin(edge, some, margin - CHECK_SLACK) if margin > CHECK_SLACK else inside

    for i in np.flatnonzero(~kept(shapes)).tolist():
        p = placements[i]
        fine = metal.placed(p, FINE)
        if kept(np.array([fine], dtype=object)).all():
            continue
        if not area.covers(fine):
            left = fine.difference(area)
            at = _point(left if not left.is_empty else fine)
            text = f"{where}: {p.part} leaves the sheet {sheet.name} near {at[0]:.2f}, {at[1]:.2f}."
            yield _fault("outside-sheet", text, at)
        else:
            at = _nearest(fine, edge)
            text = (
                f"{where}: {p.part} is {fine.distance(edge):.3f} mm from the edge of {sheet.name} near "
                f"{at[0]:.2f}, {at[1]:.2f}; the margin is {margin:g} mm."
            )
            yield _fault("margin-short", text, at)


def _pair_faults(
    where: str, gap: Mm, placements: Sequence[Placement], shapes: Shapes, metal: MetalOfParts
) -> Iterator[Finding]:
    """Pairs of parts that overlap or lie closer than the gap; a part in another's hole is such a pair too."""
    shapely.prepare(shapes)
    tree = shapely.STRtree(shapes)
    reach = max(0.0, gap - CHECK_SLACK)
    for first in range(0, len(shapes), CHUNK):
        near = tree.query(shapes[first : first + CHUNK], predicate="dwithin", distance=reach)
        pairs = np.column_stack([near[0] + first, near[1]])
        pairs = pairs[pairs[:, 0] < pairs[:, 1]]
        for start in range(0, len(pairs), CHUNK):
            some = pairs[start : start + CHUNK]
            involved, places = np.unique(some, return_inverse=True)
            fine = metal.all_placed([placements[k] for k in involved.tolist()], FINE)
            for k in np.flatnonzero(_are_too_close(fine, places.reshape(-1, 2), gap)).tolist():
                i, j = some[k].tolist()
                yield _pair_fault(where, gap, placements[i], placements[j], metal)


def _are_too_close(shapes: Shapes, pairs: npt.NDArray[np.intp], gap: Mm) -> npt.NDArray[np.bool_]:
    """Which of the pairs, given as two positions in `shapes` each, break the gap."""
    if gap > CHECK_SLACK:
        shapely.prepare(shapes)
        return shapely.dwithin(shapes[pairs[:, 0]], shapes[pairs[:, 1]], gap - CHECK_SLACK)
    # Touching is allowed here, so each is made smaller by half of what is forgiven.
    smaller = shapely.buffer(shapes, (gap - CHECK_SLACK) / 2.0)
    shapely.prepare(smaller)
    return shapely.intersects(smaller[pairs[:, 0]], smaller[pairs[:, 1]])


def _pair_fault(where: str, gap: Mm, a: Placement, b: Placement, metal: MetalOfParts) -> Finding:
    metals = metal.placed(a, FINE), metal.placed(b, FINE)
    distance = metals[0].distance(metals[1])
    at = _nearest(*metals)
    place = f"near {at[0]:.2f}, {at[1]:.2f}"
    if distance > 0.0:
        text = f"{where}: {a.part} and {b.part} are {distance:.3f} mm apart {place}; the gap is {gap:g} mm."
        return _fault("gap-short", text, at)
    return _fault("overlap", f"{where}: {a.part} and {b.part} overlap {place}.", at)


def _nearest(a: BaseGeometry, b: BaseGeometry) -> Point:
    """A place where the two come nearest, or in the middle of what they share."""
    shared = a.intersection(b)
    if not shared.is_empty:
        return _point(shared)
    (x1, y1), (x2, y2) = shapely.get_coordinates(shapely.shortest_line(a, b))
    return (float(x1 + x2) / 2.0, float(y1 + y2) / 2.0)


def _point(shape: BaseGeometry) -> Point:
    point = shape.representative_point()
    return (float(point.x), float(point.y))


def _fault(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.REFUSAL, message, at)
