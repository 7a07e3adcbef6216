"""Lays a job's pieces on its bars: first fit at once, then the solver, and only nests that pass their check.

The nest says whether it is *proven optimal*: every piece that fits some bar is laid, and no other way to lay them all
costs less. The proof is a lower bound of the cost: of the material, or the solver's own (Gilmore and Gomory's linear
programme and an exact search behind it).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from nesting.errors import Cancelled
from nesting.layout.choose_engine import bar_constructions
from nesting.layout.contest import Contest
from nesting.layout.deadline import Deadline
from nesting.layout.engine import Construction, bars_from_record
from nesting.layout.engines.first_fit import lay_first_fit, room_on
from nesting.layout.fits import NO_ROOM, NO_STOCK
from nesting.layout.race import race
from nesting.layout.score import SAME, score_bars
from nesting.model.findings import Finding
from nesting.model.nest import BarJob, BarLayout, BarNest, Unplaced
from nesting.records.values import Record, optional_number
from nesting.units import SAME_POINT, Seconds

type Check = Callable[[BarNest], Sequence[Finding]]

LONGER_THAN_EVERY_BAR = "longer than every bar less its dead end and lead end"

FIRST_FIT = "first fit"

GRACE: Seconds = 0.5
"""How far first fit may overrun the budget; half of what the whole call may."""


def lay_out_bars(job: BarJob, deadline: Deadline, report: Callable[[BarNest], None], check: Check) -> BarNest:
    """The best nest found within the deadline that `check` finds no fault in; `report` gets every better one so far.

    Always an answer: what could not be laid stands in `unplaced` with the reason. It returns early when the best nest
    is proven optimal. `report` is called in the caller's thread, `check` in another.

    Raises:
        Cancelled: the deadline's flag stopped it before there was any nest.
    """
    if deadline.should_stop():
        raise Cancelled("Stopped on request before there was any layout.")
    reduced, reasons = _look_over(job)
    bound = material_bound(reduced)

    def nest_of(layouts: Sequence[BarLayout], engine: str) -> BarNest:
        merged = _merge_repeats(layouts)
        rest = _left_out(job, merged, reasons)
        return BarNest(job, merged, rest, seed=deadline.seed, seconds=deadline.elapsed, engine=engine)

    def take(construction: Construction, record: Record) -> bool:
        nonlocal bound
        said = optional_number(record, "bound", "answer")
        bound = max(bound, said) if said is not None else bound
        layouts = bars_from_record(record)
        return _are_known(layouts, reduced) and contest.offer(nest_of(layouts, construction.name))

    def is_proven() -> bool:
        wanted = sum(demand.count for demand in reduced.demands)
        if contest.score is None or not wanted or contest.score.laid < wanted:
            return False
        return contest.score.cost <= bound * (1.0 + SAME) + SAME

    def first_fit_is_over() -> bool:
        # Even the shortest budget gets its first fit: that is what makes sure that there is an answer.
        return deadline.should_stop() or deadline.elapsed > deadline.budget + GRACE

    contest = Contest(nest_of((), ""), deadline, score=score_bars, check=check, report=report)
    for longest_first in (True, False):
        layouts = lay_first_fit(reduced, longest_first=longest_first, is_over=first_fit_is_over)
        contest.offer(nest_of(layouts, FIRST_FIT))
    if contest.best.placed_count == 0 and deadline.should_stop():
        raise Cancelled("Stopped on request before anything was laid.")
    cut_short = first_fit_is_over()
    if not deadline.is_over and not is_proven():
        constructions = bar_constructions(reduced, contest.best)
        cut_short = race(constructions, reduced, deadline, take) or cut_short
    return replace(
        contest.best,
        seconds=deadline.elapsed,
        proven_optimal=is_proven(),
        cut_short=cut_short or deadline.should_stop(),
    )


def material_bound(job: BarJob) -> float:
    """What the pieces would cost if no bar had any waste, or the same in whole bars where there is one kind.

    Counted with a gap behind each piece and one more on each bar, which is the same room. Lengths are rounded down a
    little, so float noise never makes the bound too high.
    """
    wanted = Fraction(0)
    for demand in job.demands:
        wanted += demand.count * Fraction(demand.part.length + job.rules.gap - SAME_POINT)
    rooms = [(Fraction(room_on(bar, job) + job.rules.gap + SAME_POINT), Fraction(bar.price)) for bar in job.stock]
    if not rooms or wanted <= 0:
        return 0.0
    if len(rooms) == 1:
        room, price = rooms[0]
        return float(math.ceil(wanted / room) * price)
    return float(wanted * min(price / room for room, price in rooms))


def _look_over(job: BarJob) -> tuple[BarJob, dict[str, str]]:
    """The job with only the pieces and bars that may meet, and why other pieces are left out."""
    at_hand = [bar for bar in job.stock if bar.count != 0]
    reasons = {}
    kept = []
    for demand in job.demands:
        length = demand.part.length - SAME_POINT
        if demand.count == 0:
            continue
        if any(room_on(bar, job) >= length for bar in at_hand):
            kept.append(demand)
        elif not job.stock or any(room_on(bar, job) >= length for bar in job.stock):
            reasons[demand.part.name] = NO_STOCK
        else:
            reasons[demand.part.name] = LONGER_THAN_EVERY_BAR
    shortest = min((demand.part.length for demand in kept), default=math.inf)
    usable = tuple(bar for bar in at_hand if room_on(bar, job) >= shortest - SAME_POINT)
    return replace(job, stock=usable, demands=tuple(kept)), reasons


def _left_out(job: BarJob, layouts: Sequence[BarLayout], reasons: dict[str, str]) -> tuple[Unplaced, ...]:
    laid: dict[str, int] = {}
    for layout in layouts:
        for piece in layout.pieces:
            laid[piece.part] = laid.get(piece.part, 0) + layout.copies
    is_short = all(bar.count is not None for bar in job.stock)
    rows = []
    for demand in job.demands:
        name = demand.part.name
        if demand.count > laid.get(name, 0):
            reason = reasons.get(name, NO_STOCK if is_short else NO_ROOM)
            rows.append(Unplaced(name, demand.count - laid.get(name, 0), reason))
    return tuple(rows)


def _are_known(layouts: Sequence[BarLayout], job: BarJob) -> bool:
    """Whether an engine's layouts name only bars and pieces that it was given."""
    bars = {bar.name for bar in job.stock}
    parts = {demand.part.name for demand in job.demands}
    return all(lay.stock in bars and all(piece.part in parts for piece in lay.pieces) for lay in layouts)


def _merge_repeats(layouts: Sequence[BarLayout]) -> tuple[BarLayout, ...]:
    """The layouts with those that are alike made one with more copies."""
    merged: dict[tuple[str, tuple[object, ...]], BarLayout] = {}
    for layout in layouts:
        key = (layout.stock, layout.pieces)
        copies = layout.copies + (merged[key].copies if key in merged else 0)
        merged[key] = replace(layout, copies=copies)
    return tuple(merged.values())
