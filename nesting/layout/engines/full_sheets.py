"""Lays full sheets one by one, each with chosen pieces, and what is left on the last; then betters sheet after sheet.
Longer than a module should be, because it is one state in two directions: whatever a run brings changes what is held,
what is loose and whether the last sheet is out of date, and those decide what runs next.

How the time goes: windows are filled first, while the packing library lays all parts at once, so that there is a good
nest soon. Then the strip library packs chosen pieces until they are no longer than a sheet: so much bulk as sheets have
been seen to take. A sheet that did not come out short enough loses what sticks out. The pieces left over are packed as
short as can be. From then on pieces of the last sheet are tried on full ones, and the last is packed anew: each success
makes the whole shorter. Sheets of odd outline and single last sheets are given to the packing library too.

Everything is packed in children of this process, two at a time.
"""

import math
import random
import time
from collections import Counter
from dataclasses import dataclass, field, replace

from nesting.errors import BadRecord, BadValue
from nesting.geometry.contour import Bounds
from nesting.layout.choose_parts import choose, choose_instead
from nesting.layout.composites import Pieces, pieces_of, plain_pieces
from nesting.layout.engine import Report, sheets_from_record, sheets_to_record
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.engines.windows import fillings_from_record, windows_of
from nesting.layout.fill_seen import FillSeen
from nesting.layout.measures import Measures
from nesting.layout.quick_look import QuickLook
from nesting.layout.score import Extents, Score, score_sheets
from nesting.layout.sheet_plan import FullSheet, SheetPlan, counts_of
from nesting.layout.solvers import Said, Solvers
from nesting.layout.strip_runs import placements_of, strip_request
from nesting.model.nest import Placement, SheetJob, SheetLayout, SheetNest
from nesting.model.stock import Sheet
from nesting.records.jobs import job_from_record, job_to_record
from nesting.records.nests import placement_from_record, placement_to_record
from nesting.records.values import Record, as_list, flag, number, whole_number
from nesting.units import Mm, Mm2, Seconds

STRIPS = "nesting.layout.engines.strips:strip_record"
WINDOWS = "nesting.layout.engines.windows:fill_record"
ALL_AT_ONCE = "nesting.layout.engines.irregular:solve_record"
AROUND = "nesting.layout.engines.around:fill_record"

FIRST_SHARE = 0.12
"""Share of the time for filling windows, and for the packing library beside it."""

FEW_SHEETS = 2.5
"""On so few sheets the packing library is about as good as sheet after sheet, so it gets more of the time."""

FEW_SHEETS_SHARE = 0.5
"""How much: the share of the time for the packing library with filled pieces, on one of the two cores."""

CAUTION = 0.004
"""By how much less is tried: a run that ends short of its goal costs more than a goal too low."""

LONGEST_SHARE = 0.3
"""Share of the time for one run at most, its extension not counted."""

LAST_SHARE = 0.2
"""Share of the time for packing the last sheet once; what is left for it changes as others are bettered."""

EXTENSION = 1.4
"""How much longer a run may go on that is close to its goal."""

CORES = 2

REPEATED_FROM = 2.15
"""Where more sheets than this are needed, two of them are alike."""

AFFORDABLE: Seconds = 3.0
"""Where there is less time for each sheet than this, more of them are alike."""

WORTH_REPEATING = 0.98
"""Share of the wanted bulk that a sheet must have from what is there often enough, else it is cut less often."""

LONG_RUN_COPIES = 3
"""Sheets that are cut so often are bettered before others are made."""

LONG_RUN_SHEETS = 12
"""From so many sheets on, sheets are repeated, and the packing library is not asked to lay all at once."""

SHORTEST: Seconds = 0.8
"""A run shorter than this brings nothing: starting it takes 0.2 s."""

STICKS_OUT: Mm = 1.5e-3
"""What sticks out by less is within what the checker forgives."""

MOST_FAILURES = 4
"""When the strip library has failed so often in a row, it is given up for this job."""

FILLING_SHARE = 0.03
"""Share of the time for laying pieces into what one full sheet leaves open."""

LONGEST_FILLING: Seconds = 3.0

EMPTIER = 0.015
"""Only sheets are filled up that are emptier by this share than a run makes them: those that have lost what stuck out.
On others a run of a second gains less than it costs."""

MOST_ODD = 20
"""Sheets of odd outline that are laid at most: each takes a run of its own."""

SECOND_CHANCE = 0.005
"""Share of a sheet's room that is tried to be won on it even after a run that ended far off: luck counts for more."""

FINEST = 0.0015
"""Share of a sheet's room: less is not tried to be won on it."""


@dataclass
class _Goal:
    """What a run of the strip library is for. `sheet` is the full sheet that is to be bettered, None for a new one."""

    kind: Sheet
    names: list[str]
    counts: Counter[str]
    copies: int = 1
    sheet: FullSheet | None = None
    is_last: bool = False
    bulk: Mm2 = 0.0
    seconds: Seconds = 0.0
    extra: Counter[str] = field(default_factory=Counter)
    started_at: Seconds = field(default_factory=time.monotonic)


@dataclass
class _Rival:
    """A run of the packing library on all pieces, or on what is for the last sheet."""

    pieces: Pieces
    is_last: bool = False


class _Windows:
    """The run that fills windows."""


@dataclass
class _Filler:
    """A run that lays pieces into what a full sheet leaves open, or on a sheet of odd outline (`sheet` None)."""

    kind: Sheet
    counts: Counter[str]
    copies: int = 1
    sheet: FullSheet | None = None


class FullSheets:
    """One job in work."""

    def __init__(self, job: SheetJob, report: Report, *, seconds: Seconds, seed: int, extra_gap: Mm) -> None:
        self._job, self._report = job, report
        self._started_at = time.monotonic()
        self._budget, self._until = seconds, self._started_at + seconds
        self._chance = random.Random(seed)  # noqa: S311 - not for secrets
        self._extra_gap = extra_gap
        self._gap, self._margin = job.rules.gap + extra_gap, job.rules.margin + extra_gap
        self._true_extents = Extents(job)
        self._best: tuple[Score, list[SheetLayout]] | None = None
        self._solvers = Solvers()
        self._fill_seen = FillSeen()
        self._spare: dict[frozenset[tuple[str, int]], SheetLayout] = {}
        self._last_dirty = True
        self._failures = 0
        self._set_pieces(plain_pieces(job))
        self._odd = self._odd_sheets()

    # What is to be laid

    def _set_pieces(self, pieces: Pieces) -> None:
        self._pieces = pieces
        self._measures = Measures(pieces, self._job, self._gap, self._margin)
        self._extents = Extents(pieces.job)
        self._plan = SheetPlan(pieces.job, self._extents)
        self._look = QuickLook(self._measures.parts, self._gap)

    @property
    def _remaining(self) -> Seconds:
        return self._until - time.monotonic()

    # The run

    def run(self) -> Record:
        with self._solvers:
            self._open()
            while self._remaining > 0.0:
                while self._solvers.free > 0 and self._start_next():
                    pass
                if not self._solvers.running:
                    break
                for said in self._solvers.wait(min(0.2, self._remaining)):
                    self._hear(said)
        return sheets_to_record(self._best[1] if self._best else [])

    def _open(self) -> None:
        has_windows = bool(windows_of(self._job, self._extra_gap))
        if has_windows:
            self._solvers.start(WINDOWS, self._request(self._job), self._first_seconds, _Windows())
        needed = self._sheets_needed(self._plan.loose)
        if needed <= LONG_RUN_SHEETS:
            self._start_rival(needed)
        self._is_open = not has_windows

    @property
    def _first_seconds(self) -> Seconds:
        return max(SHORTEST, min(6.0, self._budget * FIRST_SHARE))

    def _start_rival(self, sheets_needed: float) -> None:
        """Starts the packing library on all pieces at once."""
        seconds = self._first_seconds
        if sheets_needed <= FEW_SHEETS:
            seconds = max(seconds, FEW_SHEETS_SHARE * self._remaining)
        request = self._request(self._pieces.job) | {"seed": self._chance.randrange(2**31)}
        self._solvers.start(ALL_AT_ONCE, request, seconds, _Rival(self._pieces))

    def _request(self, job: SheetJob) -> Record:
        return {"job": job_to_record(job), "seed": 0, "extra_gap_mm": self._extra_gap}

    def _start_next(self) -> bool:
        """Starts the next run; False where there is nothing to do now."""
        if not self._is_open or self._remaining < SHORTEST or self._failures >= MOST_FAILURES:
            return False
        if self._start_filling():
            return True
        goals = [run.purpose for run in self._solvers.running if isinstance(run.purpose, _Goal)]
        last_runs = any(goal.is_last for goal in goals)
        kind = self._next_kind()
        free = self._plan.free()
        if (
            kind is not None
            and not self._plan.is_complete
            and self._measures.total(free) > self._fill() * self._measures.room(kind)
        ):
            return (self._is_long_run_young() and self._start_more(LONG_RUN_COPIES)) or self._start_full(kind, free)
        if not last_runs and (self._last_dirty or any(goal.sheet is None for goal in goals)):
            return self._start_last(free if any(goal.sheet is None for goal in goals) else +self._plan.loose)
        if self._start_more():
            return True
        # With nothing more to try on full sheets, the last one is packed again, without what is being tried on others.
        return self._start_last(free)

    # Odd sheets, and what full ones leave open

    def _odd_sheets(self) -> list[Sheet]:
        """Each sheet of odd outline that is no dearer for its area than the cheapest plain one; the cheapest first."""
        job = self._job
        plain = min((s.price / s.outline.area for s in job.stock if s.name in self._measures.usable), default=math.inf)
        odd = [s for s in job.stock if s.name not in self._measures.usable and s.price <= plain * s.outline.area]
        odd.sort(key=lambda sheet: sheet.price / sheet.outline.area)
        return [sheet for sheet in odd for _ in range(MOST_ODD if sheet.count is None else sheet.count)][:MOST_ODD]

    def _start_filling(self) -> bool:
        seconds = max(SHORTEST, min(LONGEST_FILLING, FILLING_SHARE * self._budget))
        if self._remaining < 2.0 * seconds:
            return False
        while self._odd:
            sheet = self._odd.pop(0)
            if self._start_filler(sheet, None, 2.0 * seconds, 0.95 * sheet.outline.area):
                return True
        for full in self._plan.full:
            if full.is_filled or full.is_tried or full.layout.stock not in self._measures.usable:
                continue
            full.is_filled = True
            kind = self._measures.sheet(full.layout.stock)
            if full.bulk > (self._fill() - EMPTIER) * self._measures.room(kind):
                continue
            if self._start_filler(kind, full, seconds, self._measures.room(kind) - full.bulk):
                return True
        return False

    def _start_filler(self, kind: Sheet, full: FullSheet | None, seconds: Seconds, room: Mm2) -> bool:
        copies = 1 if full is None else full.layout.copies
        small = {
            name: count
            for name, count in self._plan.free().items()
            if self._measures.parts[name].outer.area <= room and self._measures.fits(name, kind)
        }
        # Twice as much as there is room for, to choose from.
        counts = choose(small, self._measures.bulk, 2.0 * room, self._chance, copies, self._measures.ranks)
        if not counts:
            return False
        there = Counter[str]() if full is None else full.counts
        demands = tuple(
            replace(d, count=counts[d.part.name] + there[d.part.name])
            for d in self._pieces.job.demands
            if counts[d.part.name] + there[d.part.name]
        )
        job = replace(self._pieces.job, stock=(replace(kind, count=1),), demands=demands)
        fixed = [] if full is None else [placement_to_record(p) for p in full.layout.placements]
        self._plan.hold(counts, copies)
        if full is not None:
            full.is_tried = True
        self._solvers.start(AROUND, self._request(job) | {"fixed": fixed}, seconds, _Filler(kind, counts, copies, full))
        return True

    def _hear_filler(self, filler: _Filler, said: Said) -> None:
        if not said.is_last:
            return
        self._plan.release(filler.counts, filler.copies)
        old = filler.sheet
        if old is not None:
            old.is_tried = False
        rows = as_list(said.record.get("placements"), "answer.placements") if said.record is not None else []
        added = tuple(placement_from_record(row, f"answer.placements[{i}]") for i, row in enumerate(rows))
        if not added or (old is not None and old not in self._plan.full):
            return
        placements = added if old is None else (*old.layout.placements, *added)
        usable = self._measures.usable.get(filler.kind.name)
        if usable is not None and not self._look.is_right(placements, usable):
            return
        layout = SheetLayout(filler.kind.name, placements, filler.copies)
        bulk = self._measures.total(counts_of(layout))
        if old is None:
            self._plan.take(FullSheet(layout, bulk, bulk, is_filled=True))
        else:
            self._plan.exchange(old, FullSheet(layout, bulk, max(bulk, old.reach), is_filled=True))
        self._last_dirty = True
        self._stop_outdated()
        self._offer_plan()

    def _is_long_run_young(self) -> bool:
        """Whether there is still time to better the sheets that are cut often before others are made."""
        return self._remaining > 0.55 * self._budget

    def _fill(self, seconds: Seconds | None = None) -> float:
        """The share of its room that a sheet is expected to take in a run of so many seconds."""
        return self._fill_seen.expected(0.2 * self._budget if seconds is None else seconds)

    def _sheets_needed(self, counts: Counter[str]) -> float:
        largest = max((self._measures.room(sheet) for sheet in self._pieces.job.stock), default=1.0)
        return self._measures.total(counts) / (largest * self._fill())

    def _next_kind(self) -> Sheet | None:
        """The cheapest kind of plain sheet for its room that is still there and takes any of what is free."""
        there = [
            sheet
            for sheet in self._pieces.job.stock
            if sheet.name in self._measures.usable and self._plan.at_hand(sheet.name) != 0
        ]
        return min(there, key=lambda sheet: sheet.price / self._measures.room(sheet), default=None)

    def _start_full(self, kind: Sheet, free: Counter[str]) -> bool:
        fitting = Counter({name: count for name, count in free.items() if self._measures.fits(name, kind)})
        needed = self._measures.total(fitting) / (self._measures.room(kind) * self._fill())
        copies = self._copies(kind, needed)
        seconds = min(LONGEST_SHARE * self._budget, CORES * 0.5 * self._remaining / (self._patterns(needed) + 0.7))
        seconds = max(SHORTEST, min(seconds, self._remaining - SHORTEST))
        room = (self._fill(seconds) - CAUTION) * self._measures.room(kind)
        while True:
            counts = choose(fitting, self._measures.bulk, room, self._chance, copies, self._measures.ranks)
            if copies == 1 or self._measures.total(counts) > WORTH_REPEATING * room:
                break
            copies //= 2  # there are too few pieces of a kind
        if not counts:
            return False
        goal = _Goal(kind, list(counts), counts, copies, seconds=seconds)
        self._plan.hold(counts, copies)
        self._start_strip(goal)
        return True

    def _copies(self, kind: Sheet, needed: float) -> int:
        copies, at_hand = self._run_length(needed), self._plan.at_hand(kind.name)
        return copies if at_hand is None else max(1, min(copies, at_hand))

    def _run_length(self, needed: float) -> int:
        """How often the next sheet is cut where so many are needed: one that is cut twice has twice the time to become
        dense. What is due first would be spread over the sheets, so it decides against that.
        """
        affordable = self._remaining / AFFORDABLE
        if needed > max(REPEATED_FROM, affordable):
            return max(2, math.floor(0.35 * needed))
        return 2 if needed > REPEATED_FROM and not self._measures.ranks else 1

    def _patterns(self, needed: float) -> float:
        """How many different sheets that makes, the last one as far as it is needed."""
        different = 0
        while (length := self._run_length(needed)) > 1:
            needed -= length
            different += 1
        return different + needed

    def _start_last(self, counts: Counter[str]) -> bool:
        """Packs loose pieces as short as can be, on the cheapest sheet that may take them."""
        kind = self._kind_for_last(counts)
        if not counts or kind is None:
            return False
        seconds = min(max(1.0, LAST_SHARE * self._budget), self._remaining)
        goals = [run.purpose for run in self._solvers.running if isinstance(run.purpose, _Goal)]
        is_only_sheet = not self._plan.full and all(goal.is_last for goal in goals)
        if is_only_sheet or self._remaining - seconds < 2.0 * SHORTEST:
            seconds = self._remaining
        self._last_dirty = self._last_dirty and counts != +self._plan.loose
        self._start_strip(_Goal(kind, list(counts), counts, is_last=True, seconds=seconds))
        return True

    def _kind_for_last(self, counts: Counter[str]) -> Sheet | None:
        there = [
            sheet
            for sheet in self._pieces.job.stock
            if sheet.name in self._measures.usable
            and self._plan.at_hand(sheet.name) != 0
            and all(self._measures.fits(name, sheet) for name in counts)
        ]
        if not there:
            return None
        bulk = self._measures.total(counts)
        enough = [sheet for sheet in there if bulk <= self._measures.room(sheet) * self._fill()]
        if enough:
            return min(enough, key=lambda sheet: (sheet.price, -self._measures.room(sheet)))
        return max(there, key=self._measures.room)

    def _start_more(self, least_copies: int = 1) -> bool:
        """Tries to lay some loose pieces on a full sheet beside its own."""
        free = self._plan.free()
        seconds = min(LONGEST_SHARE * self._budget, self._remaining - 0.3)
        if seconds < SHORTEST:
            return False
        tries = []
        for sheet in self._plan.full:
            if sheet.layout.stock not in self._measures.usable:
                continue
            room = self._measures.room(self._measures.sheet(sheet.layout.stock))
            hope = min((self._fill(seconds) - 0.5 * CAUTION) * room, sheet.reach) - sheet.bulk
            if not sheet.is_tried and sheet.layout.copies >= least_copies and hope > FINEST * room:
                gain = hope * sheet.layout.copies / (1.0 + sheet.misses)
                tries.append((gain * self._chance.uniform(0.7, 1.3), hope, sheet))
        tries.sort(key=lambda each: -each[0])
        return any(self._start_try(sheet, hope, free, seconds) for _, hope, sheet in tries) or (
            least_copies == 1
            and any(
                self._start_try(sheet, hope, free, seconds, alone=True)
                for _, hope, sheet in tries
                if sheet.layout.copies > 1
            )
        )

    def _start_try(
        self, sheet: FullSheet, hope: Mm2, free: Counter[str], seconds: Seconds, *, alone: bool = False
    ) -> bool:
        """Starts to lay about so much more on the sheet; `alone` on one of its copies, which differs from then on."""
        kind = self._measures.sheet(sheet.layout.stock)
        fitting = Counter({name: count for name, count in free.items() if self._measures.fits(name, kind)})
        copies = 1 if alone else sheet.layout.copies
        keep = bool(self._measures.ranks)  # what is due first has its place
        counts = choose_instead(sheet.counts, fitting, self._measures.bulk, hope, self._chance, copies, keep=keep)
        extra = counts - sheet.counts
        if self._measures.total(counts) < sheet.bulk + min(0.5 * hope, FINEST * self._measures.room(kind)):
            return False
        if alone:
            sheet = self._plan.split(sheet)
        goal = _Goal(kind, list(counts), counts, copies, sheet=sheet, seconds=seconds, extra=extra)
        sheet.is_tried = True
        self._plan.hold(extra, copies)
        self._start_strip(goal)
        return True

    def _start_strip(self, goal: _Goal) -> None:
        usable = self._measures.usable[goal.kind.name]
        goal.bulk = self._measures.total(goal.counts)
        goal.started_at = time.monotonic()
        request = strip_request(
            self._measures,
            goal.names,
            goal.counts,
            usable,
            gap=self._gap,
            target=None if goal.is_last else usable.width,
            decide=goal.seconds,
            seed=self._chance.randrange(2**31),
        )
        longest = goal.seconds if goal.is_last else min(EXTENSION * goal.seconds, self._remaining)
        self._solvers.start(STRIPS, request, max(goal.seconds, longest), goal)

    # What comes of it

    def _hear(self, said: Said) -> None:
        purpose = said.run.purpose
        try:
            if isinstance(purpose, _Windows):
                if said.is_last:
                    self._open_windows(said.record)
            elif isinstance(purpose, _Rival):
                self._hear_rival(purpose, said)
            elif isinstance(purpose, _Filler):
                self._hear_filler(purpose, said)
            elif isinstance(purpose, _Goal):
                self._hear_strip(purpose, said)
        except (BadRecord, LookupError, TypeError, ValueError):
            # A solver that answers nonsense has said nothing.
            self._failures += 1 if said.is_last and isinstance(purpose, _Goal) else 0

    def _open_windows(self, record: Record | None) -> None:
        self._is_open = True
        fillings = fillings_from_record(record) if record is not None else ()
        if fillings:
            for run in self._solvers.running:
                run.stop()
            self._set_pieces(pieces_of(self._job, fillings))
            needed = self._sheets_needed(self._plan.loose)
            if needed <= LONG_RUN_SHEETS:
                self._start_rival(needed)

    def _hear_rival(self, rival: _Rival, said: Said) -> None:
        if said.record is not None:
            self._offer(rival.pieces.expanded(sheets_from_record(said.record)))

    def _hear_strip(self, goal: _Goal, said: Said) -> None:
        if said.is_last and not goal.is_last:
            self._plan.release(goal.counts if goal.sheet is None else goal.extra, goal.copies)
            if goal.sheet is not None:
                goal.sheet.is_tried = False
                goal.sheet.misses += 1
        if said.record is None:
            self._failures += 0 if said.run.stopped.is_set() else 1
            return
        width = number(said.record, "width_mm", "answer")
        self._failures = 0
        if goal.is_last:
            self._take_last(goal, said.record, width, is_over=said.is_last)
        elif said.is_last:
            self._take_full(goal, said.record, width, reached=flag(said.record, "reached", "answer"))

    def _take_full(self, goal: _Goal, record: Record, width: Mm, *, reached: bool) -> None:
        self._learn(goal, width)
        usable = self._measures.usable[goal.kind.name]
        reach = goal.bulk * (usable.width + self._gap) / (width + self._gap)
        placements = placements_of(record, self._measures, goal.names, usable)
        if not reached:
            if goal.sheet is not None:
                goal.sheet.reach = max(goal.sheet.bulk + SECOND_CHANCE * self._measures.room(goal.kind), reach)
                return
            placements = self._inside(placements, usable)
        if not placements or not self._look.is_right(placements, usable):
            return
        layout = SheetLayout(goal.kind.name, tuple(placements), goal.copies)
        new = FullSheet(layout, self._measures.total(counts_of(layout)), math.inf if reached else reach)
        if goal.sheet is None:
            self._plan.take(new)
        elif goal.sheet in self._plan.full:
            self._plan.exchange(goal.sheet, new)
        else:
            return
        self._last_dirty = True
        self._stop_outdated()
        spare = self._spare.get(frozenset((+self._plan.loose).items()))
        if spare is not None:
            self._last_dirty = False
            self._better_last(spare)
        self._offer_plan()

    def _stop_outdated(self) -> None:
        """Stops what packs the last sheet without pieces that now belong on it, however the tries on others end."""
        in_hand = +self._plan.held
        for run in self._solvers.running:
            goal = run.purpose
            if isinstance(goal, _Goal) and goal.is_last and self._plan.loose - goal.counts - in_hand:
                run.stop()

    def _inside(self, placements: list[Placement], usable: Bounds) -> list[Placement]:
        """The placements without those that stick out of the sheet on the right."""
        bounds = self._look.bounds(placements)
        return [p for p, b in zip(placements, bounds, strict=True) if b.right <= usable.right + STICKS_OUT]

    def _take_last(self, goal: _Goal, record: Record, width: Mm, *, is_over: bool) -> None:
        usable = self._measures.usable[goal.kind.name]
        placements = placements_of(record, self._measures, goal.names, usable)
        if width <= usable.width + STICKS_OUT:
            layout = SheetLayout(goal.kind.name, tuple(placements))
            if not self._look.is_right(placements, usable):
                return
            if self._plan.loose - goal.counts:
                # It was packed without what is being tried on full sheets: of use when that succeeds.
                self._spare[frozenset(goal.counts.items())] = layout
            elif self._better_last(layout):
                self._offer_plan()
        elif is_over and not self._plan.is_complete:
            # Too much for one sheet: it becomes a full one, and what sticks out stays loose.
            inside = self._inside(placements, usable)
            layout = SheetLayout(goal.kind.name, tuple(inside))
            if inside and self._look.is_right(inside, usable) and not counts_of(layout) - self._plan.free():
                reach = goal.bulk * (usable.width + self._gap) / (width + self._gap)
                self._plan.take(FullSheet(layout, self._measures.total(counts_of(layout)), reach))
                self._last_dirty = True
                self._offer_plan()

    def _better_last(self, layout: SheetLayout) -> bool:
        """Takes the layout for the last sheet, if it is better than what is there."""
        kept = self._plan.last
        before = self._score(kept) if self._plan.is_complete else None
        self._plan.set_last([layout])
        if before is not None and not self._score(self._plan.last).is_better_than(before):
            self._plan.set_last(kept)
            return False
        return True

    def _score(self, layouts: list[SheetLayout]) -> Score:
        return score_sheets(SheetNest(self._pieces.job, tuple(layouts)), self._extents)

    def _learn(self, goal: _Goal, width: Mm) -> None:
        room = (width + self._gap) * (self._measures.usable[goal.kind.name].height + self._gap)
        self._fill_seen.learn(goal.bulk, room, time.monotonic() - goal.started_at)

    # What is reported

    def _offer_plan(self) -> None:
        if not self._plan.full and not self._plan.last:
            return
        if self._plan.is_complete:
            self._offer(self._pieces.expanded(self._plan.layouts()))
            if not +self._plan.loose and self._plan.full:
                self._plan.open_one(self._measures.usable)
                self._last_dirty = True
        else:
            self._offer(self._pieces.expanded([*self._plan.layouts(), *self._rows()]))

    def _rows(self) -> list[SheetLayout]:
        """Plain rows of what is on no sheet yet."""
        job = self._pieces.job
        loose = self._plan.loose - sum((counts_of(layout) for layout in self._plan.last), Counter())
        left = tuple(replace(d, count=loose[d.part.name]) for d in job.demands if loose[d.part.name] > 0)
        there = tuple(replace(sheet, count=self._plan.at_hand(sheet.name)) for sheet in job.stock)
        rest = replace(job, stock=tuple(sheet for sheet in there if sheet.count != 0), demands=left)
        forms = {demand.part.name: self._measures.forms[demand.part.name] for demand in left}
        best: tuple[Score, tuple[SheetLayout, ...]] | None = None
        for stand in STANDS[:2]:
            rows = lay_rows(rest, forms, stand, extra_gap=self._extra_gap, is_over=lambda: self._remaining < 0.2)
            score = score_sheets(SheetNest(rest, rows), self._extents)
            if score.is_better_than(best[0] if best else None):
                best = (score, rows)
        return list(best[1]) if best else []

    def _offer(self, layouts: "tuple[SheetLayout, ...] | list[SheetLayout]") -> None:
        score = score_sheets(SheetNest(self._job, tuple(layouts)), self._true_extents)
        if score.is_better_than(self._best[0] if self._best else None):
            self._best = (score, list(layouts))
            self._report(sheets_to_record(layouts))


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("full sheets: a sheet job is needed.")
    return FullSheets(
        job,
        report,
        seconds=number(request, "seconds", "request"),
        seed=whole_number(request, "seed", "request"),
        extra_gap=number(request, "extra_gap_mm", "request", 0.0),
    ).run()
