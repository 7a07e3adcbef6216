"""Fills windows and bores with other parts of the job, with the packing library, one kind of window after the other.

Each kind of window is a small sheet of its own that is to hold as much as can be; what has been found is repeated for
as many of its kind as parts last. Large windows come first, because only they can take large parts.
"""

import math
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.layout.bulk import bulk_of
from nesting.layout.composites import Filling, turns_within
from nesting.layout.engine import Report
from nesting.layout.engines.library import PackingLibrary, library
from nesting.layout.outlines import fillable_holes
from nesting.model.nest import Demand, Placement, SheetJob, SheetRules
from nesting.model.part import SheetPart, Turns
from nesting.model.stock import Sheet
from nesting.records.jobs import job_from_record
from nesting.records.nests import placement_from_record, placement_to_record
from nesting.records.values import Record, as_list, as_object, number, text, whole_number
from nesting.units import Mm, Mm2, Seconds

EACH: Seconds = 0.35
"""What one kind of window may take at first. Measured: after it a window gains some 3 % in ten times as long."""

LEAST_SHARE = 0.02
"""A filling that covers less of its window is not worth a piece of its own kind."""

MOST_FILLINGS = 6
"""Different fillings for one kind of window; after these the parts that fit have run low."""

LARGE_FIRST = 1.08
"""The power of its bulk that a part in a window is worth: large parts go in first, small ones find room elsewhere."""


@dataclass(frozen=True)
class Window:
    host: Demand[SheetPart]
    hole: int
    outline: Contour

    @property
    def area(self) -> Mm2:
        return self.outline.area


def windows_of(job: SheetJob, extra_gap: Mm = 0.0) -> list[Window]:
    """The holes that could take another part of the job, those that matter most in total first."""
    gap = job.rules.gap + extra_gap
    fillable = fillable_holes([demand.part for demand in job.demands], gap)
    found = []
    for demand in job.demands:
        useful = {id(hole) for hole in fillable[demand.part.name]}
        for i, hole in enumerate(demand.part.holes):
            if id(hole) in useful and any(_may_hold(demand, hole, other, job, gap) for other in job.demands):
                found.append(Window(demand, i, hole.anticlockwise()))
    return sorted(found, key=lambda window: -window.area)


def _may_hold(host: Demand[SheetPart], hole: Contour, other: Demand[SheetPart], job: SheetJob, gap: Mm) -> bool:
    """Whether the other part may lie in the hole, by area, by the longer sides of their bounds and by its turns."""
    if other.part.outer.area >= hole.area or other is host:
        return False
    if not turns_within(job.turns_of(host), job.turns_of(other), mirror=job.rules.mirror):
        return False
    inner, outer = other.part.bounds, hole.bounds
    diagonal = (outer.width**2 + outer.height**2) ** 0.5
    return bool(max(inner.width, inner.height) + 2.0 * gap <= diagonal)


class _Filler:
    """Keeps what is left of each part while windows are filled."""

    def __init__(self, job: SheetJob, extra_gap: Mm, until: Seconds) -> None:
        self._job, self._extra_gap, self._until = job, extra_gap, until
        self._gap = job.rules.gap + extra_gap
        self._left = {demand.part.name: demand.count for demand in job.demands}
        self._bulk = {demand.part.name: bulk_of(demand.part, self._gap) for demand in job.demands}
        self._libraries: dict[Turns, PackingLibrary] = {}

    def fill(self, window: Window, hosts: int, seconds: Seconds) -> Iterable[Filling]:
        for _ in range(MOST_FILLINGS):
            if hosts < 1 or time.monotonic() + seconds > self._until:
                return
            placements = self._best(window, hosts, seconds)
            used = Counter(p.part for p in placements)
            if sum(self._bulk[name] * each for name, each in used.items()) < LEAST_SHARE * window.area:
                return
            count = min(hosts, *(self._left[name] // each for name, each in used.items()))
            for name, each in used.items():
                self._left[name] -= count * each
            hosts -= count
            yield Filling(window.host.part.name, window.hole, placements, count)

    def _best(self, window: Window, hosts: int, seconds: Seconds) -> tuple[Placement, ...]:
        offered = {}
        for demand in self._job.demands:
            name = demand.part.name
            if self._left[name] and _may_hold(window.host, window.outline, demand, self._job, self._gap):
                # A fair share of each part, so that the first windows do not take what all would need.
                share = math.ceil(self._left[name] / hosts)
                offered[name] = max(1, min(share, int(window.area / demand.part.outer.area)))
        if not offered:
            return ()
        packing_library = self._library(self._job.turns_of(window.host), tuple(offered))
        ground = Sheet("window", window.outline, is_remnant=True)
        packing = packing_library.build(library.Objective.Knapsack, offered, [(ground, 1)], self._worth)
        layouts = packing.solve(seconds)
        return layouts[0].placements if layouts else ()

    def _library(self, host: Turns, names: Sequence[str]) -> PackingLibrary:
        """The packing library with solid parts, a gap from the window's edge, and turns as they are in the host."""
        if host not in self._libraries:
            demands = []
            for demand in self._job.demands:
                turns = turns_within(host, self._job.turns_of(demand), mirror=self._job.rules.mirror)
                if turns:
                    demands.append(replace(demand, part=replace(demand.part, holes=()), turns=turns))
            rules = SheetRules(gap=self._job.rules.gap, margin=self._job.rules.gap)
            self._libraries[host] = PackingLibrary(SheetJob((), rules, tuple(demands)), self._extra_gap)
        return self._libraries[host]

    def _worth(self, part: SheetPart) -> float:
        return float(self._bulk[part.name] ** LARGE_FIRST)


def fill_record(request: Record, report: Report) -> Record:
    """The engine's call: like that of `nesting.layout.engine`, but with `fillings` for layouts."""
    until = time.monotonic() + number(request, "seconds", "request")
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("windows: a sheet job is needed.")
    extra_gap = number(request, "extra_gap_mm", "request", 0.0)
    windows = windows_of(job, extra_gap)
    filler = _Filler(job, extra_gap, until)
    seconds = EACH
    if windows:
        seconds = max(0.1, min(1.5, (until - time.monotonic()) / (2.5 * len(windows))))
    found: list[Filling] = []
    for window in windows:
        for filling in filler.fill(window, window.host.count, seconds):
            found.append(filling)
            report(fillings_to_record(found))
    return fillings_to_record(found)


def fillings_to_record(fillings: Sequence[Filling]) -> Record:
    return {
        "fillings": [
            {
                "host": each.host,
                "hole": each.hole,
                "count": each.count,
                "placements": [placement_to_record(p) for p in each.placements],
            }
            for each in fillings
        ]
    }


def fillings_from_record(record: Record) -> tuple[Filling, ...]:
    found = []
    for i, each in enumerate(as_list(record.get("fillings"), "answer.fillings")):
        here = f"answer.fillings[{i}]"
        row = as_object(each, here)
        placements = tuple(
            placement_from_record(p, f"{here}.placements[{k}]")
            for k, p in enumerate(as_list(row.get("placements"), f"{here}.placements"))
        )
        found.append(
            Filling(
                text(row, "host", here), whole_number(row, "hole", here), placements, whole_number(row, "count", here)
            )
        )
    return tuple(found)
