"""Lays a job's parts on its sheets: plain rows at once, then a race of engines, and only nests that pass their check.

The calling process supervises. Rows take milliseconds and are made here; everything else runs in child processes, see
`nesting.layout.race`.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from nesting.errors import Cancelled
from nesting.layout.choose_engine import sheet_constructions
from nesting.layout.contest import Contest
from nesting.layout.deadline import Deadline
from nesting.layout.engine import EXTRA_GAP, MOST_TRIES, Construction, sheets_from_record
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.race import race
from nesting.layout.score import Extents, score_sheets
from nesting.layout.sheet_bound import is_unbeatable
from nesting.layout.survey import left_out, survey
from nesting.model.findings import Finding
from nesting.model.nest import Placement, SheetJob, SheetLayout, SheetNest
from nesting.records.values import Record
from nesting.units import Seconds

type Check = Callable[[SheetNest], Sequence[Finding]]

ROWS = "rows"

ROWS_GRACE: Seconds = 0.5
"""How far plain rows may overrun the budget; half of what the whole call may."""


def lay_out_sheets(job: SheetJob, deadline: Deadline, report: Callable[[SheetNest], None], check: Check) -> SheetNest:
    """The best nest found within the deadline that `check` finds no fault in; `report` gets every better one so far.

    Always an answer: what could not be laid stands in `unplaced` with the reason. `report` and `check` are called in
    the caller's thread.

    Raises:
        Cancelled: the deadline's flag stopped it before there was any nest.
    """
    if deadline.should_stop():
        raise Cancelled("Stopped on request before there was any layout.")
    looked_over = survey(job)
    extents = Extents(looked_over.job)

    def nest_of(layouts: Sequence[SheetLayout], engine: str, *, out_of_time: bool = False) -> SheetNest:
        merged = merge_repeats(layouts)
        rest = left_out(looked_over, merged, out_of_time=out_of_time)
        return SheetNest(job, merged, rest, seed=deadline.seed, seconds=deadline.elapsed, engine=engine)

    def take(construction: Construction, record: Record) -> bool:
        layouts = sheets_from_record(record)
        known = all(p.part in looked_over.forms for layout in layouts for p in layout.placements)
        return known and contest.offer(nest_of(layouts, construction.name))

    def rows_are_over() -> bool:
        # Even the shortest budget gets its rows: they are what makes sure that there is an answer.
        return deadline.should_stop() or deadline.elapsed > deadline.budget + ROWS_GRACE

    def is_done() -> bool:
        return is_unbeatable(looked_over, contest.score)

    contest = Contest(nest_of((), ""), lambda nest: score_sheets(nest, extents), check, report)
    for attempt in range(MOST_TRIES):
        tries = [
            lay_rows(looked_over.job, looked_over.forms, stand, extra_gap=attempt * EXTRA_GAP, is_over=rows_are_over)
            for stand in STANDS
        ]
        if all(contest.offer(nest_of(layouts, ROWS, out_of_time=rows_are_over())) for layouts in tries):
            break
    if contest.best.placed_count == 0 and deadline.should_stop():
        raise Cancelled("Stopped on request before anything was laid.")
    cut_short = rows_are_over()
    if not deadline.is_over and not is_done():
        constructions = sheet_constructions(looked_over, contest.best)
        cut_short = race(constructions, looked_over.job, deadline, take, is_done=is_done) or cut_short
    return replace(
        contest.best,
        seconds=deadline.elapsed,
        proven_optimal=is_done(),
        cut_short=cut_short or deadline.should_stop(),
    )


def merge_repeats(layouts: Sequence[SheetLayout]) -> tuple[SheetLayout, ...]:
    """The layouts with those that are alike made one with more copies, fullest first where they came apart."""
    merged: dict[tuple[str, frozenset[Placement]], SheetLayout] = {}
    for layout in layouts:
        key = (layout.stock, frozenset(layout.placements))
        if key in merged and len(merged[key].placements) == len(layout.placements):
            merged[key] = replace(merged[key], copies=merged[key].copies + layout.copies)
        else:
            merged[key] = layout
    return tuple(merged.values())
