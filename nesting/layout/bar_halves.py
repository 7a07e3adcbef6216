"""Lays bars as if each mitre saved half of what it can share with another, by the plain cutting-stock solver.

Where all ends of a job are mitred alike that is the truth but for the two outer ends of a bar, which share nothing.
Elsewhere it is too good: its patterns need not fit, but its bound of the cost holds. For `engines.bar_patterns`.
"""

import importlib
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.layout.bar_way import PER_MM, SAME_UNIT, Item
from nesting.layout.joints import Joints
from nesting.model.nest import BarJob
from nesting.units import Mm, Seconds

library: Any = importlib.import_module("packingsolver.onedimensional")
"""Bindings without type stubs, so imported past the type checker."""


@dataclass(frozen=True, eq=False)
class Halved:
    """The kind of bar and the times of each item, for every bar found, and the bound of the cost where it is one."""

    patterns: tuple[tuple[int, NDArray[np.float64]], ...]
    bound: float | None


class Halves:
    def __init__(self, job: BarJob, joints: Joints, items: tuple[Item, ...], extra_gap: Mm) -> None:
        self._job, self._items, self._gap = job, items, job.rules.gap + extra_gap
        self._is_exact_gap = extra_gap == 0.0
        part = {demand.part.name: demand.part for demand in job.demands}
        halves = {kind: joints.half(kind) for kind in range(joints.kind_count)}
        self._lengths = []
        for item in items:
            longest = max(part[name].length for name, _ in item.names)
            self._lengths.append(longest + self._gap - max(halves[near] + halves[far] for near, far in item.ways))
        ends = [halves[end] for item in items for way in item.ways for end in way]
        self.least_outer, self.most_outer = 2.0 * min(ends, default=0.0), 2.0 * max(ends, default=0.0)

    def lay(self, outer: Mm, seconds: Seconds, *, loosely: bool) -> Halved:
        """What the solver finds when a bar's outer ends lose `outer`; only `loosely` rounded it gives a bound."""
        down, up = (math.ceil, math.floor) if loosely else (math.floor, math.ceil)
        noise = SAME_UNIT if loosely else -SAME_UNIT
        builder, stock = library.InstanceBuilder(), self._job.stock
        one = len(stock) == 1
        builder.set_objective(library.Objective.BinPacking if one else library.Objective.VariableSizedBinPacking)
        held = self._job.rules.dead_end + self._job.rules.lead_end
        cheapest = min((bar.price for bar in stock if bar.price > 0), default=1.0)
        for bar in stock:
            room = (bar.length - held + self._gap - outer) * PER_MM
            copies = -1 if bar.count is None else bar.count
            builder.add_bin_type(max(1, down(room - noise)), cost=max(bar.price, cheapest * 1e-6), copies=copies)
        for item, length in zip(self._items, self._lengths, strict=True):
            builder.add_item_type(max(1, up(length * PER_MM + noise)), copies=item.count)
        settings = library.OptimizeParameters()
        settings.time_limit, settings.verbosity_level, settings.messages_to_stdout = seconds, 0, False
        output = library.optimize(builder.build(), settings)
        solution, found = output.solution, []
        for i in range(solution.number_of_different_bins()):
            packed = solution.bin(i)
            times = np.zeros(len(self._items))
            for each in packed.items:
                times[each.item_type_id] += 1.0
            if times.any():
                found.append((int(packed.bin_type_id), times))
        bound = None
        if loosely and self._is_exact_gap and min(bar.price for bar in stock) > 0:
            bound = float(output.bin_packing_bound) * stock[0].price if one else (
                float(output.variable_sized_bin_packing_bound)
            )  # fmt: skip
        return Halved(tuple(found), bound)
