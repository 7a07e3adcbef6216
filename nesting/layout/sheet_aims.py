"""What to try next with the strip library: which pieces on which sheet, in what time, and how often that sheet is cut.

How full a sheet gets is learned from each run (`layout/fill_seen.py`), and grows with the logarithm of its time. So a
pattern that is cut twice, and gets the time of two, becomes denser than two different ones.
"""

import math
import random
from collections import Counter

from nesting.layout.choose_parts import choose, choose_instead
from nesting.layout.deadline import Deadline
from nesting.layout.fill_seen import FillSeen
from nesting.layout.measures import Measures
from nesting.layout.sheet_goals import SHORTEST, Goal
from nesting.layout.sheet_plan import FullSheet, SheetPlan
from nesting.model.stock import Sheet
from nesting.units import Mm, Mm2, Seconds

LONGEST_SHARE = 0.3
"""Share of the time for one run at most, its extension not counted."""

LAST_SHARE = 0.2
"""Share of the time for packing the last sheet once; what is left for it changes as others are bettered."""

TO_END_WELL: Seconds = 0.3
"""What a run on a full sheet leaves of the time, for its answer to be of use."""

CAUTION = 0.004
"""By how much less is tried: a run that ends short of its goal costs more than a goal too low."""

REPEATED_FROM = 2.15
"""Where more sheets than this are needed, two of them are alike."""

AFFORDABLE: Seconds = 3.0
"""Where there is less time for each sheet than this, more of them are alike."""

LONG_RUN_SHARE = 0.35
"""Share of the sheets that are then alike."""

LONG_RUN_COPIES = 3
"""Sheets that are cut so often are bettered before others are made."""

YOUNG = 0.55
"""That is, while there is more of the time left than this share."""

WORTH_REPEATING = 0.98
"""Share of the wanted bulk that a sheet must have from what is there often enough, else it is cut less often."""

REST = 0.7
"""How many sheets' time is kept for bettering them all."""

SECOND_CHANCE = 0.005
"""Share of a sheet's room that is tried to be won on it even after a run that ended far off: luck counts for more."""

FINEST = 0.0015
"""Share of a sheet's room: less is not tried to be won on it."""


class SheetAims:
    """Decides, and holds the pieces of what it has decided; runs nothing itself."""

    def __init__(
        self, measures: Measures, plan: SheetPlan, seen: FillSeen, chance: random.Random, deadline: Deadline, gap: Mm
    ) -> None:
        self._measures, self._plan, self._seen = measures, plan, seen
        self._chance, self._deadline, self._gap = chance, deadline, gap

    def fill(self, seconds: Seconds | None = None) -> float:
        """The share of its room that a sheet is expected to take in a run of so many seconds."""
        return self._seen.expected(LAST_SHARE * self._deadline.budget if seconds is None else seconds)

    def learn(self, goal: Goal, width: Mm, took: Seconds) -> Mm2:
        """The goal's pieces took so much of a sheet's length; the answer is their `reach`."""
        usable = self._measures.usable[goal.kind.name]
        self._seen.learn(goal.bulk, (width + self._gap) * (usable.height + self._gap), took)
        return self.reach(goal, width)

    def reach(self, goal: Goal, width: Mm) -> Mm2:
        """What bulk one sheet would have, packed as the goal's pieces are that take so much of its length."""
        return goal.bulk * (self._measures.usable[goal.kind.name].width + self._gap) / (width + self._gap)

    def missed(self, sheet: FullSheet, reach: Mm2) -> None:
        """A run on the full sheet came out too long; it would have had the bulk `reach` on one sheet."""
        room = self._measures.room(self._measures.sheet(sheet.layout.stock))
        sheet.reach = max(sheet.bulk + SECOND_CHANCE * room, reach)

    def sheets_needed(self, counts: Counter[str]) -> float:
        largest = max((self._measures.room(sheet) for sheet in self._plan.job.stock), default=1.0)
        return self._measures.total(counts) / (largest * self.fill())

    # A new full sheet

    def next_kind(self) -> Sheet | None:
        """The cheapest kind of plain sheet for its room that is still there."""
        return min(self._plain_sheets(), key=lambda sheet: sheet.price / self._measures.room(sheet), default=None)

    def _plain_sheets(self) -> list[Sheet]:
        """The kinds of plain sheet that are still there."""
        return [s for s in self._plan.job.stock if s.name in self._measures.usable and self._plan.at_hand(s.name) != 0]

    def is_enough_for_one(self, kind: Sheet, counts: Counter[str]) -> bool:
        return self._measures.total(counts) > self.fill() * self._measures.room(kind)

    def new_sheet(self, kind: Sheet) -> Goal | None:
        """A full sheet of free pieces."""
        fitting = self._fitting(self._plan.free(), kind)
        needed = self._measures.total(fitting) / (self._measures.room(kind) * self.fill())
        # Two runs at once: half of the time for each, twice.
        seconds = min(LONGEST_SHARE * self._deadline.budget, self._deadline.remaining / (self._patterns(needed) + REST))
        seconds = max(SHORTEST, min(seconds, self._deadline.remaining - SHORTEST))
        bulk = (self.fill(seconds) - CAUTION) * self._measures.room(kind)
        copies, at_hand = self._run_length(needed), self._plan.at_hand(kind.name)
        copies = copies if at_hand is None else max(1, min(copies, at_hand))
        while True:
            counts = choose(fitting, self._measures.bulk, bulk, self._chance, copies, self._measures.ranks)
            if copies == 1 or self._measures.total(counts) > WORTH_REPEATING * bulk:
                break
            copies //= 2  # there are too few pieces of a kind
        if not counts:
            return None
        self._plan.hold(counts, copies)
        return Goal(kind, counts, self._measures.total(counts), seconds, copies)

    def _run_length(self, needed: float) -> int:
        """How often the next sheet is cut where so many are needed. What is due first would be spread over sheets that
        are alike, so due dates allow that only where time is short.
        """
        if needed > max(REPEATED_FROM, self._deadline.remaining / AFFORDABLE):
            return max(2, math.floor(LONG_RUN_SHARE * needed))
        return 2 if needed > REPEATED_FROM and not self._measures.ranks else 1

    def _patterns(self, needed: float) -> float:
        """How many different sheets that makes, the last one as far as it is needed."""
        different = 0
        while (length := self._run_length(needed)) > 1:
            needed -= length
            different += 1
        return different + needed

    def _fitting(self, counts: Counter[str], kind: Sheet) -> Counter[str]:
        return Counter({name: count for name, count in counts.items() if self._measures.fits(name, kind)})

    # The last sheet

    def last_sheet(self, counts: Counter[str], *, is_only_one: bool) -> Goal | None:
        """Loose pieces as short as can be, on the cheapest sheet that may take them. They are not held: what is tried
        on full sheets goes before.
        """
        kind = self._kind_for_last(counts)
        if not counts or kind is None:
            return None
        remaining = self._deadline.remaining
        seconds = min(max(1.0, LAST_SHARE * self._deadline.budget), remaining)
        if is_only_one or remaining - seconds < 2.0 * SHORTEST:
            seconds = remaining
        return Goal(kind, Counter(counts), self._measures.total(counts), seconds, is_last=True)

    def _kind_for_last(self, counts: Counter[str]) -> Sheet | None:
        there = [s for s in self._plain_sheets() if all(self._measures.fits(name, s) for name in counts)]
        if not there:
            return None
        bulk = self._measures.total(counts)
        enough = [sheet for sheet in there if bulk <= self._measures.room(sheet) * self.fill()]
        if enough:
            return min(enough, key=lambda sheet: (sheet.price, -self._measures.room(sheet)))
        return max(there, key=self._measures.room)

    # More on a full sheet

    def more_on_a_long_run(self) -> Goal | None:
        """More on a sheet that is cut often, while there is time to better it before others are made."""
        is_young = self._deadline.remaining > YOUNG * self._deadline.budget
        return self._more(self._untried(LONG_RUN_COPIES)) if is_young else None

    def more(self) -> Goal | None:
        """More on a full sheet out of free pieces: on all its copies where that can be, else on one of them."""
        tries = self._untried()
        return self._more(tries) or self._more([each for each in tries if each[1].layout.copies > 1], alone=True)

    @property
    def _seconds_for_more(self) -> Seconds:
        return min(LONGEST_SHARE * self._deadline.budget, self._deadline.remaining - TO_END_WELL)

    def _untried(self, least_copies: int = 1) -> list[tuple[Mm2, FullSheet]]:
        """Sheets that no run has in hand and how much more bulk is hoped for on each, the most promising first."""
        seconds = self._seconds_for_more
        if seconds < SHORTEST:
            return []
        found = []
        for sheet in self._plan.full:
            if sheet.is_tried or sheet.layout.copies < least_copies or sheet.layout.stock not in self._measures.usable:
                continue
            room = self._measures.room(self._measures.sheet(sheet.layout.stock))
            hope = min((self.fill(seconds) - 0.5 * CAUTION) * room, sheet.reach) - sheet.bulk
            if hope > FINEST * room:
                gain = hope * sheet.layout.copies / (1.0 + sheet.misses)
                found.append((gain * self._chance.uniform(0.7, 1.3), hope, sheet))
        return [(hope, sheet) for _, hope, sheet in sorted(found, key=lambda each: -each[0])]

    def _more(self, tries: list[tuple[Mm2, FullSheet]], *, alone: bool = False) -> Goal | None:
        """The first of the tries for which there are pieces; `alone` on one copy, which differs from then on."""
        for hope, sheet in tries:
            kind = self._measures.sheet(sheet.layout.stock)
            copies = 1 if alone else sheet.layout.copies
            free = self._fitting(self._plan.free(), kind)
            keep = bool(self._measures.ranks)  # what is due first has its place
            counts = choose_instead(sheet.counts, free, self._measures.bulk, hope, self._chance, copies, keep=keep)
            bulk = self._measures.total(counts)
            if bulk < sheet.bulk + min(0.5 * hope, FINEST * self._measures.room(kind)):
                continue
            one = self._plan.split(sheet) if alone else sheet
            one.is_tried = True
            extra = counts - sheet.counts
            self._plan.hold(extra, copies)
            return Goal(kind, counts, bulk, self._seconds_for_more, copies, one, extra=extra)
        return None
