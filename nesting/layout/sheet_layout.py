"""Lays a job's parts on its sheets: plain rows at once, then a race of engines, and only nests that pass their check.

The calling process supervises. Rows take milliseconds and are made here; everything else runs in child processes, see
`nesting.layout.race`.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import product

from nesting.errors import Cancelled
from nesting.layout.choose_engine import FULL_SHEETS, sheet_constructions
from nesting.layout.contest import Contest
from nesting.layout.deadline import Deadline
from nesting.layout.engine import EXTRA_GAP, MOST_TRIES, Construction, sheets_from_record
from nesting.layout.engines.rows import STANDS, lay_rows, lay_rows_apart
from nesting.layout.fill_up import filled_up, may_be_filled, time_kept
from nesting.layout.kits import kits_of
from nesting.layout.race import race
from nesting.layout.score import Extents, due_ranks, score_sheets
from nesting.layout.sheet_bound import is_unbeatable, sheet_bound
from nesting.layout.sides import without_sides
from nesting.layout.survey import left_out, survey
from nesting.model.findings import Finding
from nesting.model.nest import Placement, SheetJob, SheetLayout, SheetNest
from nesting.records.values import Record
from nesting.units import Seconds

type Check = Callable[[SheetNest], Sequence[Finding]]

ROWS = "rows"

ROWS_GRACE: Seconds = 0.5
"""How far plain rows may overrun the budget; half of what the whole call may."""

ROWS_ENOUGH: Seconds = 1.0
"""When rows have taken this long, no further way of laying them is tried. Jobs of some hundred kinds get here."""


def lay_out_sheets(job: SheetJob, deadline: Deadline, report: Callable[[SheetNest], None], check: Check) -> SheetNest:
    """The best nest found within the deadline that `check` finds no fault in; `report` gets every better one so far.

    Always an answer: what could not be laid stands in `unplaced` with the reason. `report` is called in the caller's
    thread, `check` in another. Sheets stand in the order in which to cut them, those with the earliest due parts first.

    Raises:
        Cancelled: the deadline's flag stopped it before there was any nest.
    """
    if not may_be_filled(job):
        return _lay_out_wanted(job, deadline, report, check)
    first = replace(deadline, budget=deadline.budget - time_kept(deadline.budget))
    nest = _lay_out_wanted(job, first, report, check)
    fuller = filled_up(nest, deadline, lambda rest, time: _lay_out_wanted(rest, time, lambda _: None, check), check)
    if fuller is not nest:
        report(fuller)
    return fuller


def _lay_out_wanted(job: SheetJob, deadline: Deadline, report: Callable[[SheetNest], None], check: Check) -> SheetNest:
    """As `lay_out_sheets`, with no more laid than is wanted."""
    if deadline.should_stop():
        raise Cancelled("Stopped on request before there was any layout.")
    looked_over = survey(without_sides(job))
    job_at_hand, forms = looked_over.job, looked_over.forms
    extents = Extents(job_at_hand)

    def nest_of(layouts: Sequence[SheetLayout], engine: str, *, out_of_time: bool = False) -> SheetNest:
        merged = _in_order(merge_repeats(layouts), job)
        rest = left_out(looked_over, merged, out_of_time=out_of_time)
        return SheetNest(job, merged, rest, seed=deadline.seed, seconds=deadline.elapsed, engine=engine)

    def take(construction: Construction, record: Record) -> bool:
        layouts = sheets_from_record(record)
        return _are_known(layouts, job_at_hand) and contest.offer(nest_of(layouts, construction.name))

    def rows_are_over() -> bool:
        # Even the shortest budget gets its rows: they are what makes sure that there is an answer.
        return deadline.should_stop() or deadline.elapsed > deadline.budget + ROWS_GRACE

    def is_done() -> bool:
        return is_unbeatable(looked_over, bound, contest.score)

    contest = Contest(
        nest_of((), ""), deadline, score=lambda nest: score_sheets(nest, extents), check=check, report=report
    )
    cut_short = False
    groups = _groups(job_at_hand)
    for attempt in range(MOST_TRIES):
        passed = True
        for way, stand in product((None, *groups), STANDS):
            if way is None:
                layouts = lay_rows(job_at_hand, forms, stand, extra_gap=attempt * EXTRA_GAP, is_over=rows_are_over)
            else:
                extra = attempt * EXTRA_GAP
                layouts = lay_rows_apart(job_at_hand, way, forms, stand, extra_gap=extra, is_over=rows_are_over)
            passed = contest.offer(nest_of(layouts, ROWS, out_of_time=rows_are_over())) and passed
            if deadline.elapsed > ROWS_ENOUGH:
                cut_short = True
                break
        if passed or cut_short:
            break
    if contest.best.placed_count == 0 and deadline.should_stop():
        raise Cancelled("Stopped on request before anything was laid.")
    bound = sheet_bound(looked_over)
    if not is_done():
        constructions = sheet_constructions(looked_over, contest.best)
        at_once = 1 if constructions[:1] == [FULL_SHEETS] else 2
        cut_short = race(constructions, job_at_hand, deadline, take, is_done=is_done, at_once=at_once) or cut_short
    return replace(
        contest.best,
        seconds=deadline.elapsed,
        proven_optimal=is_done(),
        cut_short=cut_short or deadline.should_stop(),
        bound=bound,
    )


def _are_known(layouts: Sequence[SheetLayout], job: SheetJob) -> bool:
    """Whether an engine's layouts name only sheets and parts that it was given."""
    sheets = {sheet.name for sheet in job.stock}
    parts = {demand.part.name for demand in job.demands}
    return all(lay.stock in sheets and all(p.part in parts for p in lay.placements) for lay in layouts)


def _groups(job: SheetJob) -> list[list[list[str]]]:
    """In which groups of parts rows are laid too: by due date where there are several, and by kits kept together."""
    found = []
    ranks = due_ranks(job)
    if ranks:
        found.append([[n for n in ranks if ranks[n] == rank] for rank in sorted(set(ranks.values()))])
    if job.rules.together:
        found.append([list(kit.counts) for kit in kits_of(job)])
    return found


def _in_order(layouts: Sequence[SheetLayout], job: SheetJob) -> tuple[SheetLayout, ...]:
    """The layouts with those first that hold what is due first, and of these the ones that hold most of it."""
    ranks = due_ranks(job)
    if not ranks:
        return tuple(layouts)

    def place(layout: SheetLayout) -> tuple[int, float]:
        theirs = [ranks[p.part] for p in layout.placements]
        return min(theirs), sum(theirs) / len(theirs)

    return tuple(sorted(layouts, key=place))


def merge_repeats(layouts: Sequence[SheetLayout]) -> tuple[SheetLayout, ...]:
    """The layouts with those that are alike made one with more copies."""
    merged: dict[tuple[str, frozenset[Placement]], SheetLayout] = {}
    for layout in layouts:
        key = (layout.stock, frozenset(layout.placements))
        if key in merged and len(merged[key].placements) == len(layout.placements):
            merged[key] = replace(merged[key], copies=merged[key].copies + layout.copies)
        else:
            merged[key] = layout
    return tuple(merged.values())
