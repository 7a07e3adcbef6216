"""Lays one sheet after another with the packing library, each as full as can be, and repeats a sheet while parts last.

For long runs this is far quicker than laying all at once, and gives few different sheets: of a job of some 40 sheets
the first pattern holds what is wanted about 20 times over and is repeated 20 times, the next one 10 times, and so on;
what is left is laid at once. The whole is done over and over, each time slower and with other choices, and the best is
kept.
"""

import math
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from nesting.errors import BadValue
from nesting.layout.engine import Report, sheets_to_record
from nesting.layout.engines.library import PackingLibrary, library
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.fits import forms_of
from nesting.layout.score import Extents, Score, due_ranks, due_worth, score_sheets
from nesting.model.nest import SheetJob, SheetLayout, SheetNest
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, number, whole_number
from nesting.units import CHORD, Mm2, Seconds

FIRST_PASS: Seconds = 1.0
"""What the first pass takes for each sheet that it makes; each further pass takes GROWTH times as long."""

GROWTH = 2.0

USUAL_FILL = 0.75
"""Share of a sheet that its parts usually cover, to foresee how many sheets are needed."""

LAST_SHEETS = 1.9
"""When no more than so many sheets are left by that measure, the rest is laid at once."""

LAST_SHARE = 0.4
"""Share of a pass that is kept for the rest."""


@dataclass(frozen=True)
class _Choices:
    """What differs from pass to pass."""

    repeat: float
    """Share of the sheets still needed that the next pattern is to make up."""
    offered: float
    """How many times a sheet's room of parts is offered to it, to choose from."""
    large_first: float
    """The power of its area that a part is worth: above 1 the large parts go first and do not pile up at the end."""


USUAL = _Choices(repeat=0.5, offered=1.25, large_first=1.15)


class _Pass:
    """One way through the whole job."""

    def __init__(self, packing_library: PackingLibrary, choices: _Choices, until: Seconds) -> None:
        self._library, self._choices, self._until = packing_library, choices, until
        self._job = packing_library.job
        self._bulk = {d.part.name: bulk(d.part) for d in self._job.demands}
        self._left = {d.part.name: d.count for d in self._job.demands}
        self._at_hand = {sheet.name: sheet.count for sheet in self._job.stock}
        rules = self._job.rules
        self._forms = {
            d.part.name: forms_of(d.part, self._job.turns_of(d), mirror=rules.mirror) for d in self._job.demands
        }
        self._ranks = due_ranks(self._job)
        self._layouts: list[SheetLayout] = []

    def run(self) -> Iterator[list[SheetLayout]]:
        """After each sheet and at the end: all layouts so far, with plain rows for what is still left."""
        while any(self._left.values()) and time.monotonic() < self._until:
            sheet = self._next_sheet()
            if sheet is None:
                break
            needed = self._sheets_needed(sheet)
            few = self._few()
            if needed <= LAST_SHEETS and len(few) == sum(1 for count in self._left.values() if count):
                self._lay_rest()
                break
            if not self._lay_pattern(sheet, max(1.0, needed), few):
                if len(few) == len(self._left):
                    self._lay_rest()
                break
            yield self._with_rows()
        yield self._with_rows()

    def _next_sheet(self) -> Sheet | None:
        """The cheapest kind of sheet for its area that is still there."""
        there = [sheet for sheet in self._job.stock if self._at_hand[sheet.name] != 0]
        return min(there, key=lambda sheet: sheet.price / sheet.outline.area, default=None)

    def _sheets_needed(self, sheet: Sheet) -> float:
        rest = math.fsum(self._bulk[name] * count for name, count in self._left.items())
        return rest / (sheet.outline.area * USUAL_FILL)

    def _few(self) -> list[str]:
        """The kinds that may go on the next sheet; those due first, and of these the ones that need the most room."""
        names = [name for name, count in self._left.items() if count]
        names.sort(key=lambda name: (self._ranks.get(name, 0), -self._left[name] * self._bulk[name]))
        return names[: self._job.rules.most_kinds]

    def _lay_pattern(self, sheet: Sheet, needed: float, few: list[str]) -> bool:
        """Lays one sheet, as often as planned; False where nothing came of it."""
        repeats = max(1, math.floor(needed * self._choices.repeat))
        at_hand = self._at_hand[sheet.name]
        repeats = repeats if at_hand is None else min(repeats, at_hand)
        offered = self._offered(repeats, needed, few, sheet)
        while not offered and repeats > 1:
            repeats //= 2
            offered = self._offered(repeats, needed, few, sheet)
        seconds = (self._until - time.monotonic()) * (1.0 - LAST_SHARE) / _patterns(needed)
        packing = self._library.build(library.Objective.Knapsack, offered, [(sheet, 1)], self._worth)
        layouts = packing.solve(seconds)
        if not layouts:
            return False
        used = Counter(p.part for p in layouts[0].placements)
        self._take(SheetLayout(sheet.name, layouts[0].placements, repeats), used)
        return True

    def _offered(self, repeats: int, needed: float, few: list[str], sheet: Sheet) -> Mapping[str, int]:
        """So many of each part that `repeats` sheets of them can be made, and more than one sheet's room of them.

        Of parts due at different times all that is due first is offered before anything else.
        """
        share = self._choices.offered * repeats / needed
        if len(few) < len(self._left):
            # Of few kinds each sheet may have as many as it takes.
            share = 1.0
        offered = {}
        room = self._choices.offered * sheet.outline.area
        for rank in sorted({self._ranks.get(name, 0) for name in few}):
            for name in (each for each in few if self._ranks.get(each, 0) == rank):
                count = self._left[name]
                each = min(count // repeats, math.ceil(count / repeats * (1.0 if self._ranks else share)))
                if each:
                    offered[name] = each
                    room -= each * self._bulk[name]
            if room <= 0.0:
                break
        return offered

    def _lay_rest(self) -> None:
        """Lays what is left at once on what stock is left; where that fails, as much of it as possible."""
        left = {name: count for name, count in self._left.items() if count}
        there = [(sheet, self._at_hand[sheet.name]) for sheet in self._job.stock if self._at_hand[sheet.name] != 0]
        objective = (
            library.Objective.BinPackingWithLeftovers if len(there) == 1 else library.Objective.VariableSizedBinPacking
        )
        seconds = max(0.1, self._until - time.monotonic())
        layouts = self._library.build(objective, left, there).solve(seconds)
        for layout in layouts:
            self._take(layout, Counter(p.part for p in layout.placements))

    def _with_rows(self) -> list[SheetLayout]:
        left = tuple(replace(d, count=self._left[d.part.name]) for d in self._job.demands if self._left[d.part.name])
        there = tuple(replace(s, count=self._at_hand[s.name]) for s in self._job.stock if self._at_hand[s.name] != 0)
        if not left or not there:
            return self._layouts
        rest = replace(self._job, stock=there, demands=left)
        extents = Extents(rest)
        gap = self._library.extra_gap
        best: tuple[SheetLayout, ...] = ()
        best_score: Score | None = None
        for stand in STANDS:
            layouts = lay_rows(rest, self._forms, stand, extra_gap=gap, is_over=lambda: False)
            score = score_sheets(SheetNest(rest, layouts), extents)
            if score.is_better_than(best_score):
                best, best_score = layouts, score
        return [*self._layouts, *best]

    def _take(self, layout: SheetLayout, used: Counter[str]) -> None:
        at_hand = self._at_hand[layout.stock]
        if at_hand is not None:
            self._at_hand[layout.stock] = at_hand - layout.copies
        for name, each in used.items():
            self._left[name] -= layout.copies * each
        self._layouts.append(layout)

    def _worth(self, part: SheetPart) -> Mm2:
        return float(self._bulk[part.name] ** self._choices.large_first) * due_worth(self._ranks, part.name)


def _steps(job: SheetJob) -> float:
    """About how many different sheets a pass makes."""
    largest = max(sheet.outline.area for sheet in job.stock)
    return _patterns(math.fsum(bulk(d.part) * d.count for d in job.demands) / (largest * USUAL_FILL))


def _patterns(needed: float) -> float:
    """About how many patterns so many sheets need, as each makes up half of what is left."""
    return math.log2(max(2.0, needed)) + 1.0


def bulk(part: SheetPart) -> Mm2:
    """How much of a sheet a part takes up, more or less: half way between its own area and that of its hull.

    A bent arm covers little, but not much goes beside it; its windows are another matter and count as covered.
    """
    hull = Polygon(part.outer.polygon(CHORD, "on")).convex_hull
    return (part.outer.area + float(hull.area)) / 2.0


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    until = time.monotonic() + number(request, "seconds", "request")
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("by sheet: a sheet job is needed.")
    packing_library = PackingLibrary(job, number(request, "extra_gap_mm", "request", 0.0))
    chance = random.Random(whole_number(request, "seed", "request"))  # noqa: S311 - not for secrets
    best: tuple[Score, list[SheetLayout]] | None = None
    extents = Extents(job)
    choices, length = USUAL, FIRST_PASS * _steps(job)
    while time.monotonic() < until:
        one = _Pass(packing_library, choices, min(until, time.monotonic() + length))
        for layouts in one.run():
            score = score_sheets(SheetNest(job, tuple(layouts)), extents)
            if score.is_better_than(best[0] if best else None):
                best = (score, layouts)
                report(sheets_to_record(layouts))
        length *= GROWTH
        choices = _other(chance.uniform)
    return sheets_to_record(best[1] if best else [])


def _other(uniform: Callable[[float, float], float]) -> _Choices:
    return _Choices(uniform(0.35, 0.75), uniform(1.1, 1.6), uniform(1.0, 1.3))
