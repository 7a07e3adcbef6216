"""Lays full sheets one by one, each with chosen pieces, and what is left on the last; then betters sheet after sheet.
Longer than a module should be, because whatever a run brings changes what is full, what is loose and whether the last
sheet is out of date. What to try next is decided elsewhere: `layout/sheet_aims.py` and `layout/sheet_fillers.py`.

How the time goes: windows are filled first, while the packing library lays all parts at once, so that there is a good
nest soon. Then the strip library packs chosen pieces until they are no longer than a sheet. A sheet that did not come
out short enough loses what sticks out. The pieces left over are packed as short as can be. From then on pieces of the
last sheet are tried on full ones, and the last is packed anew: each success makes the whole shorter.

Everything is packed in children of this process, two at a time.
"""

import math
import random
import time
from collections import Counter

from nesting.errors import BadRecord, BadValue
from nesting.geometry.contour import Bounds
from nesting.layout.composites import Pieces, pieces_of, plain_pieces
from nesting.layout.deadline import Deadline
from nesting.layout.engine import Report, sheets_from_record
from nesting.layout.engines.best_sheets import BestSheets, rows_of_the_rest
from nesting.layout.engines.windows import fillings_from_record, windows_of
from nesting.layout.fill_seen import FillSeen
from nesting.layout.measures import Measures
from nesting.layout.quick_look import QuickLook
from nesting.layout.score import Extents, Score, score_sheets
from nesting.layout.sheet_aims import SheetAims
from nesting.layout.sheet_fillers import SheetFillers
from nesting.layout.sheet_goals import SHORTEST, Filler, Goal, Rival, Windows
from nesting.layout.sheet_plan import FullSheet, SheetPlan, counts_of
from nesting.layout.solvers import Said, Solvers
from nesting.layout.strip_runs import placements_of, strip_request
from nesting.model.nest import Placement, SheetJob, SheetLayout, SheetNest
from nesting.records.jobs import job_from_record, job_to_record
from nesting.records.nests import placement_from_record, placement_to_record
from nesting.records.values import Record, as_list, flag, number, whole_number
from nesting.units import Mm, Seconds

STRIPS = "nesting.layout.engines.strips:strip_record"
WINDOWS = "nesting.layout.engines.windows:fill_record"
ALL_AT_ONCE = "nesting.layout.engines.irregular:solve_record"
AROUND = "nesting.layout.engines.around:fill_record"

FIRST_SHARE = 0.12
"""Share of the time for filling windows, and for the packing library beside it."""

LONGEST_FIRST: Seconds = 6.0

FEW_SHEETS = 2.5
"""On so few sheets the packing library is about as good as sheet after sheet, so it gets more of the time."""

FEW_SHEETS_SHARE = 0.5
"""How much: the share of the time for the packing library with filled pieces, on one of the two cores. Where one sheet
takes all, it gets all of the time: the two libraries race to the end, and which is ahead early says little."""

LONG_RUN_SHEETS = 12
"""From so many sheets on the packing library is not asked to lay all at once."""

EXTENSION = 1.4
"""How much longer a run may go on that is close to its goal."""

STICKS_OUT: Mm = 1.5e-3
"""What sticks out by less is within what the checker forgives."""

MOST_FAILURES = 4
"""When the strip library has failed so often in a row, it is given up for this job."""

POLL: Seconds = 0.2


class FullSheets:
    """One job in work."""

    def __init__(self, job: SheetJob, report: Report, *, seconds: Seconds, seed: int, extra_gap: Mm) -> None:
        self._job = job
        self._deadline = Deadline(seconds, seed)
        self._chance = random.Random(seed)  # noqa: S311 - not for secrets
        self._extra_gap = extra_gap
        self._gap, self._margin = job.rules.gap + extra_gap, job.rules.margin + extra_gap
        self._best = BestSheets(job, report)
        self._solvers = Solvers()
        self._fill_seen = FillSeen()
        self._spare: dict[frozenset[tuple[str, int]], SheetLayout] = {}
        self._last_dirty = True
        self._failures = 0
        self._set_pieces(plain_pieces(job))

    def _set_pieces(self, pieces: Pieces) -> None:
        """These are to be laid."""
        self._pieces = pieces
        self._measures = Measures(pieces, self._job, self._gap, self._margin)
        self._plan = SheetPlan(pieces.job, Extents(pieces.job))
        self._look = QuickLook(self._measures.parts, self._gap)
        self._aims = SheetAims(self._measures, self._plan, self._fill_seen, self._chance, self._deadline, self._gap)
        self._fillers = SheetFillers(self._measures, self._plan, self._chance, self._deadline)

    # The run

    def run(self) -> Record:
        with self._solvers:
            self._open()
            while not self._deadline.is_over:
                while self._solvers.free > 0 and self._start_next():
                    pass
                if not self._solvers.running:
                    break
                for said in self._solvers.wait(min(POLL, self._deadline.remaining)):
                    self._hear(said)
        return self._best.record()

    def _open(self) -> None:
        has_windows = bool(windows_of(self._job, self._extra_gap))
        if has_windows:
            self._solvers.start(WINDOWS, self._request(self._job), self._first_seconds, Windows())
        self._start_rival()
        self._is_open = not has_windows

    @property
    def _first_seconds(self) -> Seconds:
        return max(SHORTEST, min(LONGEST_FIRST, self._deadline.budget * FIRST_SHARE))

    def _start_rival(self) -> None:
        """Starts the packing library on all pieces at once, if they are not too many for it."""
        needed = self._aims.sheets_needed(self._plan.loose)
        if needed > LONG_RUN_SHEETS:
            return
        seconds = self._first_seconds
        if needed <= 1.0:
            seconds = self._deadline.remaining
        elif needed <= FEW_SHEETS:
            seconds = max(seconds, FEW_SHEETS_SHARE * self._deadline.remaining)
        request = self._request(self._pieces.job) | {"seed": self._chance.randrange(2**31)}
        self._solvers.start(ALL_AT_ONCE, request, seconds, Rival(self._pieces))

    def _request(self, job: SheetJob) -> Record:
        return {"job": job_to_record(job), "seed": 0, "extra_gap_mm": self._extra_gap}

    def _start_next(self) -> bool:
        """Starts the next run; False where there is nothing to do now."""
        if not self._is_open or self._deadline.remaining < SHORTEST or self._failures >= MOST_FAILURES:
            return False
        filler = self._fillers.next(self._aims.fill())
        if filler is not None:
            self._start_filler(filler)
            return True
        goal = self._next_goal()
        if goal is not None:
            self._start_strip(goal)
        return goal is not None

    def _next_goal(self) -> Goal | None:
        """What the strip library is to lay next."""
        goals = [run.purpose for run in self._solvers.running if isinstance(run.purpose, Goal)]
        kind, free = self._aims.next_kind(), self._plan.free()
        if kind is not None and not self._plan.is_complete and self._aims.is_enough_for_one(kind, free):
            return self._aims.more_on_a_long_run() or self._aims.new_sheet(kind)
        makes_new = any(goal.sheet is None for goal in goals)
        if not any(goal.is_last for goal in goals) and (self._last_dirty or makes_new):
            return self._last_goal(free if makes_new else +self._plan.loose, goals)
        # With nothing more to try on full sheets, the last one is packed again, without what is being tried on others.
        return self._aims.more() or self._last_goal(free, goals)

    def _last_goal(self, counts: Counter[str], goals: list[Goal]) -> Goal | None:
        is_only_one = not self._plan.full and all(goal.is_last for goal in goals)
        goal = self._aims.last_sheet(counts, is_only_one=is_only_one)
        if goal is not None:
            self._last_dirty = self._last_dirty and counts != +self._plan.loose
        return goal

    def _start_filler(self, filler: Filler) -> None:
        fixed = [] if filler.sheet is None else [placement_to_record(p) for p in filler.sheet.layout.placements]
        request = self._request(self._fillers.job_of(filler)) | {"fixed": fixed}
        self._solvers.start(AROUND, request, filler.seconds, filler)

    def _start_strip(self, goal: Goal) -> None:
        usable = self._measures.usable[goal.kind.name]
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
        longest = goal.seconds if goal.is_last else min(EXTENSION * goal.seconds, self._deadline.remaining)
        self._solvers.start(STRIPS, request, max(goal.seconds, longest), goal)

    # What comes of it

    def _hear(self, said: Said) -> None:
        purpose = said.run.purpose
        try:
            if isinstance(purpose, Windows):
                if said.is_last:
                    self._open_windows(said.record)
            elif isinstance(purpose, Rival):
                self._hear_rival(purpose, said)
            elif isinstance(purpose, Filler):
                self._hear_filler(purpose, said)
            elif isinstance(purpose, Goal):
                self._hear_strip(purpose, said)
        except (BadRecord, LookupError, TypeError, ValueError):
            # A solver that answers nonsense has said nothing.
            self._failures += 1 if said.is_last and isinstance(purpose, Goal) else 0

    def _open_windows(self, record: Record | None) -> None:
        self._is_open = True
        fillings = fillings_from_record(record) if record is not None else ()
        if fillings:
            for run in self._solvers.running:
                run.stop()
            self._set_pieces(pieces_of(self._job, fillings))
            self._start_rival()

    def _hear_rival(self, rival: Rival, said: Said) -> None:
        if said.record is not None:
            self._best.offer(rival.pieces.expanded(sheets_from_record(said.record)))

    def _hear_filler(self, filler: Filler, said: Said) -> None:
        if not said.is_last:
            return
        self._fillers.release(filler)
        old = filler.sheet
        rows = as_list(said.record.get("placements"), "answer.placements") if said.record is not None else []
        added = tuple(placement_from_record(row, f"answer.placements[{i}]") for i, row in enumerate(rows))
        if not added or (old is not None and old not in self._plan.full):
            return
        placements = added if old is None else (*old.layout.placements, *added)
        usable = self._measures.usable.get(filler.kind.name)
        if usable is None or self._look.is_right(placements, usable):
            self._fillers.take(filler, placements)
            self._full_has_changed()
            self._offer_plan()

    def _hear_strip(self, goal: Goal, said: Said) -> None:
        if said.is_last and not goal.is_last:
            self._plan.release(goal.held, goal.copies)
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

    def _take_full(self, goal: Goal, record: Record, width: Mm, *, reached: bool) -> None:
        reach = self._aims.learn(goal, width, time.monotonic() - goal.started_at)
        usable = self._measures.usable[goal.kind.name]
        placements = placements_of(record, self._measures, goal.names, usable)
        if not reached:
            if goal.sheet is not None:
                self._aims.missed(goal.sheet, reach)
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
        self._full_has_changed()
        spare = self._spare.get(frozenset((+self._plan.loose).items()))
        if spare is not None:
            self._last_dirty = False
            self._better_last(spare)
        self._offer_plan()

    def _full_has_changed(self) -> None:
        """Stops what packs the last sheet without pieces that now belong on it, however the tries on others end."""
        self._last_dirty = True
        in_hand = +self._plan.held
        for run in self._solvers.running:
            goal = run.purpose
            if isinstance(goal, Goal) and goal.is_last and self._plan.loose - goal.counts - in_hand:
                run.stop()

    def _inside(self, placements: list[Placement], usable: Bounds) -> list[Placement]:
        """The placements without those that stick out of the sheet on the right."""
        bounds = self._look.bounds(placements)
        return [p for p, b in zip(placements, bounds, strict=True) if b.right <= usable.right + STICKS_OUT]

    def _take_last(self, goal: Goal, record: Record, width: Mm, *, is_over: bool) -> None:
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
                bulk = self._measures.total(counts_of(layout))
                self._plan.take(FullSheet(layout, bulk, self._aims.reach(goal, width)))
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
        return score_sheets(SheetNest(self._plan.job, tuple(layouts)), self._plan.extents)

    # What is reported

    def _offer_plan(self) -> None:
        if not self._plan.full and not self._plan.last:
            return
        if self._plan.is_complete:
            self._best.offer(self._pieces.expanded(self._plan.layouts()))
            if not +self._plan.loose and self._plan.full:
                self._plan.open_one(self._measures.usable)
                self._last_dirty = True
        else:
            rows = rows_of_the_rest(
                self._plan,
                self._measures,
                extra_gap=self._extra_gap,
                is_over=lambda: self._deadline.remaining < POLL,
            )
            self._best.offer(self._pieces.expanded([*self._plan.layouts(), *rows]))


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
