"""What is laid with the packing library beside full sheets: sheets of odd outline, and what full ones leave open."""

import math
import random
from collections import Counter
from dataclasses import replace

from nesting.layout.choose_parts import choose
from nesting.layout.deadline import Deadline
from nesting.layout.measures import Measures
from nesting.layout.sheet_goals import SHORTEST, Filler
from nesting.layout.sheet_plan import FullSheet, SheetPlan, counts_of
from nesting.model.nest import Placement, SheetJob, SheetLayout
from nesting.model.stock import Sheet
from nesting.units import Mm2, Seconds

SHARE = 0.03
"""Share of the time for laying pieces into what one full sheet leaves open; an odd sheet gets twice that."""

LONGEST: Seconds = 3.0

EMPTIER = 0.015
"""Only sheets are filled up that are emptier by this share than a run makes them: those that have lost what stuck out.
On others a run of a second gains less than it costs."""

MOST_ODD = 20
"""Sheets of odd outline that are laid at most: each takes a run of its own."""

PACKED = 0.95
"""Share of an odd sheet's area that is wanted on it."""


class SheetFillers:
    """Decides what to lay where; runs nothing itself."""

    def __init__(self, measures: Measures, plan: SheetPlan, chance: random.Random, deadline: Deadline) -> None:
        self._measures, self._plan, self._chance, self._deadline = measures, plan, chance, deadline
        self._odd = self._odd_sheets()

    def _odd_sheets(self) -> list[Sheet]:
        """Each sheet of odd outline that is no dearer for its area than the cheapest plain one; the cheapest first."""
        stock, usable = self._plan.job.stock, self._measures.usable
        plain = min((s.price / s.outline.area for s in stock if s.name in usable), default=math.inf)
        odd = [s for s in stock if s.name not in usable and s.price <= plain * s.outline.area]
        odd.sort(key=lambda sheet: sheet.price / sheet.outline.area)
        return [sheet for sheet in odd for _ in range(MOST_ODD if sheet.count is None else sheet.count)][:MOST_ODD]

    def next(self, fill: float) -> Filler | None:
        """What to fill next, where a run makes sheets full to the share `fill`; its pieces are held from now on."""
        seconds = max(SHORTEST, min(LONGEST, SHARE * self._deadline.budget))
        if self._deadline.remaining < 2.0 * seconds:
            return None
        while self._odd:
            sheet = self._odd.pop(0)
            filler = self._filler(sheet, None, 2.0 * seconds, PACKED * sheet.outline.area)
            if filler is not None:
                return filler
        for full in self._plan.full:
            if full.is_filled or full.is_tried or full.layout.stock not in self._measures.usable:
                continue
            full.is_filled = True
            kind = self._measures.sheet(full.layout.stock)
            room = self._measures.room(kind)
            if full.bulk > (fill - EMPTIER) * room:
                continue
            filler = self._filler(kind, full, seconds, room - full.bulk)
            if filler is not None:
                return filler
        return None

    def _filler(self, kind: Sheet, full: FullSheet | None, seconds: Seconds, room: Mm2) -> Filler | None:
        copies = 1 if full is None else full.layout.copies
        small = {
            name: count
            for name, count in self._plan.free().items()
            if self._measures.parts[name].outer.area <= room and self._measures.fits(name, kind)
        }
        # Twice as much as there is room for, to choose from.
        counts = choose(small, self._measures.bulk, 2.0 * room, self._chance, copies, self._measures.ranks)
        if not counts:
            return None
        self._plan.hold(counts, copies)
        if full is not None:
            full.is_tried = True
        return Filler(kind, counts, seconds, copies, full)

    def job_of(self, filler: Filler) -> SheetJob:
        """One sheet, with what is on it already and what may come to it."""
        there = Counter[str]() if filler.sheet is None else filler.sheet.counts
        demands = tuple(
            replace(d, count=filler.counts[d.part.name] + there[d.part.name])
            for d in self._plan.job.demands
            if filler.counts[d.part.name] + there[d.part.name]
        )
        return replace(self._plan.job, stock=(replace(filler.kind, count=1),), demands=demands)

    def release(self, filler: Filler) -> None:
        """Its run is over."""
        self._plan.release(filler.counts, filler.copies)
        if filler.sheet is not None:
            filler.sheet.is_tried = False

    def take(self, filler: Filler, placements: tuple[Placement, ...]) -> None:
        """The sheet with all these placements counts as full."""
        layout = SheetLayout(filler.kind.name, placements, filler.copies)
        bulk = self._measures.total(counts_of(layout))
        old = filler.sheet
        if old is None:
            self._plan.take(FullSheet(layout, bulk, bulk, is_filled=True))
        else:
            self._plan.exchange(old, FullSheet(layout, bulk, max(bulk, old.reach), is_filled=True))
