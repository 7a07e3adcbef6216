"""Lays kit after kit with the packing library, so that each lies on as few sheets as can be.

A kit joins the first of the sheets begun that takes all of it beside what is there already; else it begins a new one.
A kit that is too much for a sheet is laid on several, and the last of these may be joined by others. What belongs to
no kit fills up what is begun and then goes on sheets of its own. The whole is done over and over, each time slower and
with the kits in another order, and the best is kept.
"""

import random
import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

from nesting.errors import BadValue
from nesting.layout.bulk import bulk_of
from nesting.layout.engine import Report, sheets_to_record
from nesting.layout.engines.library import PackingLibrary, library
from nesting.layout.kits import Kit, kits_of
from nesting.layout.score import Extents, Score, score_sheets
from nesting.model.nest import SheetJob, SheetLayout, SheetNest
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, number, whole_number
from nesting.units import Mm2, Seconds

FIRST_SOLVE: Seconds = 0.15
"""What one attempt to lay a kit may take in the first pass; in each further pass it takes GROWTH times as long."""

GROWTH = 2.0

FULL = 0.92
"""No attempt is made to lay more than this share of a sheet in bulk."""

MUST = 1e3
"""How many times more what has to be on a sheet is worth than what may be: more than all of these together."""


@dataclass
class _Begun:
    """A sheet with what lies on it and what that takes up."""

    sheet: Sheet
    layout: SheetLayout
    bulk: Mm2


class _Pass:
    """One way through all kits. `until` is on the clock of `time.monotonic`."""

    def __init__(self, packing_library: PackingLibrary, each: Seconds, until: Seconds) -> None:
        self._library, self._each, self._until = packing_library, each, until
        job = packing_library.job
        self._bulk = {demand.part.name: bulk_of(demand.part, packing_library.gap) for demand in job.demands}
        self._stock = sorted(job.stock, key=lambda sheet: sheet.price / sheet.outline.area)
        self._at_hand = {sheet.name: sheet.count for sheet in job.stock}
        self._begun: list[_Begun] = []

    @property
    def _is_over(self) -> bool:
        return time.monotonic() >= self._until

    def run(self, kits: list[Kit]) -> list[SheetLayout]:
        """Layouts with as much of the kits as time and stock allowed."""
        for kit in kits:
            if self._is_over:
                break
            if not kit.name:
                left = self._fill_up(+Counter(kit.counts))
                self._lay_on_new(left)
            elif not self._join(kit):
                self._lay_on_new(Counter(kit.counts))
        return [begun.layout for begun in self._begun]

    def _join(self, kit: Kit) -> bool:
        """Lays all of a kit on a sheet that is begun, or on one new sheet."""
        for begun in self._begun:
            if self._is_over:
                return False
            if begun.bulk + kit.bulk > FULL * begun.sheet.outline.area:
                continue
            layout = self._all_on(begun.sheet, Counter(p.part for p in begun.layout.placements) + Counter(kit.counts))
            if layout is not None:
                begun.layout, begun.bulk = layout, begun.bulk + kit.bulk
                return True
        for sheet in self._there():
            layout = None if kit.bulk > FULL * sheet.outline.area else self._all_on(sheet, Counter(kit.counts))
            if layout is not None:
                self._begin(sheet, layout)
                return True
        return False

    def _all_on(self, sheet: Sheet, counts: Mapping[str, int]) -> SheetLayout | None:
        """All of it on one sheet, or None."""
        packing = self._library.build(library.Objective.Knapsack, counts, [(sheet, 1)], lambda part: 1.0)
        layouts = packing.solve(self._each)
        laid = sum(len(layout.placements) for layout in layouts)
        return layouts[0] if laid == sum(counts.values()) else None

    def _lay_on_new(self, counts: Mapping[str, int]) -> None:
        """Lays as much as can be on sheets not begun yet."""
        there = [(sheet, self._at_hand[sheet.name]) for sheet in self._there()]
        if not counts or not there or self._is_over:
            return
        one_size = len(there) == 1
        wanted = sum(counts.values())
        objective = library.Objective.BinPackingWithLeftovers if one_size else library.Objective.VariableSizedBinPacking
        layouts = self._library.build(objective, counts, there).solve(3.0 * self._each)
        if sum(layout.copies * len(layout.placements) for layout in layouts) < wanted:
            most = self._library.build(library.Objective.Knapsack, counts, there, lambda part: 1.0)
            layouts = most.solve(3.0 * self._each)
        for layout in layouts:
            sheet = next(sheet for sheet, _ in there if sheet.name == layout.stock)
            for _ in range(layout.copies):
                self._begin(sheet, replace(layout, copies=1))

    def _fill_up(self, left: Counter[str]) -> Counter[str]:
        """Lays what may lie anywhere on the sheets begun, and says what of it is left."""
        for begun in self._begun:
            room = begun.sheet.outline.area - begun.bulk
            offered = Counter({name: min(count, int(room / self._bulk[name])) for name, count in left.items()})
            if self._is_over or not +offered:
                continue
            there = Counter(p.part for p in begun.layout.placements)
            worth = partial(self._worth, there)
            packing = self._library.build(library.Objective.Knapsack, there + offered, [(begun.sheet, 1)], worth)
            layouts = packing.solve(self._each)
            laid = Counter(p.part for p in layouts[0].placements) if layouts else Counter[str]()
            if not there - laid and laid - there:
                left = left - (laid - there)
                begun.layout = layouts[0]
                begun.bulk = sum(self._bulk[name] * count for name, count in laid.items())
        return left

    def _worth(self, there: Counter[str], part: SheetPart) -> float:
        return self._bulk[part.name] * (MUST if part.name in there else 1.0)

    def _there(self) -> list[Sheet]:
        return [sheet for sheet in self._stock if self._at_hand[sheet.name] != 0]

    def _begin(self, sheet: Sheet, layout: SheetLayout) -> None:
        at_hand = self._at_hand[sheet.name]
        if at_hand is not None:
            self._at_hand[sheet.name] = at_hand - 1
        self._begun.append(_Begun(sheet, layout, sum(self._bulk[p.part] for p in layout.placements)))


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    until = time.monotonic() + number(request, "seconds", "request")
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("kits: a sheet job is needed.")
    packing_library = PackingLibrary(job, number(request, "extra_gap_mm", "request", 0.0))
    chance = random.Random(whole_number(request, "seed", "request"))  # noqa: S311 - not for secrets
    kits, extents = kits_of(job), Extents(job)
    best: tuple[Score, list[SheetLayout]] | None = None
    each = FIRST_SOLVE
    while time.monotonic() < until:
        layouts = _Pass(packing_library, each, until).run(kits)
        score = score_sheets(SheetNest(job, tuple(layouts)), extents)
        if layouts and score.is_better_than(best[0] if best else None):
            best = (score, layouts)
            report(sheets_to_record(layouts))
        each *= GROWTH
        kits = sorted(kits, key=lambda kit: (not kit.name, kit.rank, -kit.bulk * chance.uniform(0.6, 1.4)))
    return sheets_to_record(best[1] if best else [])
