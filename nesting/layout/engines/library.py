"""The packing library seen through our nouns: shapes with true arcs and holes in, sheet layouts out.

Only engines use it, inside their child process. Known of the library (packingsolver 0.1, measured): its `build` spends
seconds on any item type of more than 16 copies with many corners, so such a type is split; a hole that holds nothing
only costs time; rings with repeated points make it hang; a cost of 0 is not taken; whole jobs come back empty where one
part fits nowhere. Its improvements come on a thread of its own.
"""

import importlib
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from nesting.geometry.arcs import FLAT, arc_circle
from nesting.geometry.contour import Contour
from nesting.geometry.placing import turn_vector
from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.layout.outlines import fillable_holes, lighter
from nesting.model.nest import Placement, SheetJob, SheetLayout
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import Deg, Mm, Point, Seconds

library: Any = importlib.import_module("packingsolver.irregular")
"""Bindings without type stubs, so imported past the type checker."""

MOST_ALIKE = 16
"""Copies of one item type. From 17 on the library works out repeated patterns of it first, for seconds."""

REPORT_EVERY: Seconds = 0.2
"""Improvements come by the hundred; a person and the checker need no more than five a second."""

type Profit = Callable[[SheetPart], float]


@dataclass(frozen=True)
class _Item:
    """A part as the library knows it: its shape with the lower left corner of its bounds shifted to the origin."""

    part: SheetPart
    shape: Any
    corner: Point


class PackingLibrary:
    """The parts and rules of one job, made ready once."""

    def __init__(self, job: SheetJob, extra_gap: Mm) -> None:
        self.job, self.extra_gap = job, extra_gap
        self.gap, self.margin = job.rules.gap + extra_gap, job.rules.margin + extra_gap
        holes = fillable_holes([demand.part for demand in job.demands], self.gap)
        self._items = {part.name: self._item(part, holes[part.name]) for part in (d.part for d in job.demands)}
        self._turns = {demand.part.name: self._allowed(job.turns_of(demand)) for demand in job.demands}

    def build(
        self,
        objective: Any,
        counts: Mapping[str, int],
        stock: Sequence[tuple[Sheet, int | None]],
        profit: Profit | None = None,
    ) -> "Packing":
        """A problem of the library: so many of each part on so many of each sheet, None for as many as needed.

        `profit` is what laying one of a part is worth where not all can be laid; the library's own is its area.
        """
        builder = library.InstanceBuilder()
        builder.set_objective(objective)
        builder.set_item_item_minimum_spacing(self.gap)
        cheapest = min((sheet.price for sheet, _ in stock if sheet.price > 0), default=1.0)
        for sheet, count in stock:
            builder.add_bin_type(
                _sheet_shape(sheet),
                item_bin_minimum_spacing=self.margin,
                copies=-1 if count is None else count,
                cost=max(sheet.price, cheapest * 1e-6),
            )
        names: list[str] = []
        for name, count in counts.items():
            item = self._items[name]
            worth = {} if profit is None else {"profit": profit(item.part)}
            for first in range(0, count, MOST_ALIKE):
                alike = min(MOST_ALIKE, count - first)
                builder.add_item_type(item.shape, copies=alike, allowed_rotations=self._turns[name], **worth)
                names.append(name)
        return Packing(builder.build(), [sheet for sheet, _ in stock], [self._items[name] for name in names])

    def _allowed(self, turns: Any) -> list[tuple[Deg, Deg, bool]]:
        sides = (False, True) if self.job.rules.mirror else (False,)
        if turns == "any":
            return [(0.0, 360.0, side) for side in sides]
        return [(turn, turn, side) for turn in turns for side in sides]

    def _item(self, part: SheetPart, holes: Sequence[Contour]) -> _Item:
        bounds = part.bounds
        corner = (bounds.left, bounds.bottom)
        outer = lighter(part.outer, "outwards")
        with suppress(RuntimeError):
            inner = [_shape(lighter(hole, "inwards").anticlockwise(), corner) for hole in holes]
            return _Item(part, _tried(library.ShapeWithHoles(_shape(outer, corner), inner)), corner)
        with suppress(RuntimeError):
            return _Item(part, _tried(library.ShapeWithHoles(_shape(outer, corner), [])), corner)
        # The library refuses the true shape; its bounding rectangle encloses it and is always taken.
        return _Item(part, library.ShapeWithHoles(library.build_rectangle(bounds.width, bounds.height), []), corner)


@dataclass(frozen=True)
class Packing:
    """A problem ready to be solved, with what its numbers stand for."""

    instance: Any
    stock: Sequence[Sheet]
    items: Sequence[_Item]

    def solve(
        self, seconds: Seconds, on_layouts: Callable[[tuple[SheetLayout, ...]], None] | None = None
    ) -> tuple[SheetLayout, ...]:
        """The best layouts found in the time; `on_layouts` gets better ones on the way, from another thread."""
        settings = library.OptimizeParameters()
        settings.time_limit = max(0.01, seconds)
        settings.verbosity_level = 0
        settings.messages_to_stdout = False
        news = _News(self, on_layouts)
        settings.new_solution_callback = news.take
        with news:
            output = library.optimize(self.instance, settings)
        return self.layouts(output.solution)

    def layouts(self, solution: Any) -> tuple[SheetLayout, ...]:
        """The solution in our nouns, with places for the parts' own coordinates."""
        found = []
        for i in range(solution.number_of_different_bins()):
            packed = solution.bin(i)
            sheet = self.stock[packed.bin_type_id]
            bounds = sheet.outline.bounds
            placements = tuple(self._placement(each, (bounds.left, bounds.bottom)) for each in packed.items)
            if placements:
                found.append(SheetLayout(sheet.name, placements, packed.copies))
        return tuple(found)

    def _placement(self, packed: Any, sheet_corner: Point) -> Placement:
        item = self.items[packed.item_type_id]
        turn, mirrored = float(packed.angle), bool(packed.mirror)
        cos, sin = turn_vector(turn)
        x, y = item.corner[0] * (-1.0 if mirrored else 1.0), item.corner[1]
        # What the library places is the part shifted by its corner, so the corner's own way is taken off again.
        return Placement(
            item.part.name,
            sheet_corner[0] + packed.bl_corner.x - (x * cos - y * sin),
            sheet_corner[1] + packed.bl_corner.y - (x * sin + y * cos),
            turn,
            mirrored,
        )


class _News:
    """Passes improvements on from time to time, the newest only, from a thread of its own."""

    def __init__(self, packing: Packing, on_layouts: Callable[[tuple[SheetLayout, ...]], None] | None) -> None:
        self._packing, self._on_layouts = packing, on_layouts
        self._changed = threading.Condition()
        self._newest: Any = None
        self._done = False
        self._thread = threading.Thread(target=self._pass_on, daemon=True)

    def take(self, output: Any) -> None:
        """Called by the library with every improvement."""
        if self._on_layouts is not None:
            with self._changed:
                self._newest = output.solution
                self._changed.notify()

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        with self._changed:
            self._done = True
            self._changed.notify()
        self._thread.join()

    def _pass_on(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._done or self._newest is not None)
                newest, self._newest = self._newest, None
                if self._done:
                    return
            if self._on_layouts is not None:
                self._on_layouts(self._packing.layouts(newest))
            time.sleep(REPORT_EVERY)


def _tried(shape: Any) -> Any:
    """The shape, if the library can build a problem with it.

    Raises:
        RuntimeError: it cannot.
    """
    builder = library.InstanceBuilder()
    builder.set_objective(library.Objective.BinPacking)
    bounds = shape.compute_min_max()
    size = 4.0 * (abs(bounds.x_max) + abs(bounds.y_max) + 1.0)
    builder.add_bin_type(library.build_rectangle(size, size))
    builder.add_item_type(shape, copies=1)
    builder.build()
    return shape


def _sheet_shape(sheet: Sheet) -> Any:
    bounds = sheet.outline.bounds
    if is_upright_rectangle(sheet.outline):
        return library.build_rectangle(bounds.width, bounds.height)
    return _shape(lighter(sheet.outline, "inwards"), (bounds.left, bounds.bottom))


def _shape(ring: Contour, corner: Point) -> Any:
    """An anticlockwise ring with its arcs, shifted so that `corner` comes to lie at the origin."""
    points: list[tuple[float, ...]] = []
    ends = ring.vertices[1:] + ring.vertices[:1]
    for (x1, y1, bulge), (x2, y2, _) in zip(ring.vertices, ends, strict=True):
        start, end = (x1 - corner[0], y1 - corner[1]), (x2 - corner[0], y2 - corner[1])
        points.append(start)
        if abs(bulge) >= FLAT:
            centre, _ = arc_circle(start, end, bulge)
            points.append((*centre, 1 if bulge > 0 else -1))
    return library.build_shape(points)
