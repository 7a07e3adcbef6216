"""Lays a job's pieces on its bars: first fit at once, then the solver, and only nests that pass their check.

The nest says whether it is *proven optimal*: every piece that fits some bar is laid, and no other way to lay them all
costs less. The proof is a lower bound of the cost: of the material, or the solver's own (Gilmore and Gomory's linear
programme and an exact search behind it). Where mitres may lie against each other the bounds know of it.
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from nesting.errors import Cancelled
from nesting.layout.bar_bound import bar_bound
from nesting.layout.choose_engine import bar_constructions
from nesting.layout.contest import Contest
from nesting.layout.deadline import Deadline
from nesting.layout.engine import Construction, bars_from_record
from nesting.layout.engines.first_fit import lay_first_fit, room_on
from nesting.layout.fits import NO_STOCK, NO_TIME
from nesting.layout.joints import Joints
from nesting.layout.race import race
from nesting.layout.score import SAME, score_bars
from nesting.model.findings import Finding
from nesting.model.nest import BarJob, BarLayout, BarNest, Demand, Unplaced
from nesting.model.part import TubePart
from nesting.records.values import Record, optional_number
from nesting.units import SAME_POINT, Seconds

type Check = Callable[[BarNest], Sequence[Finding]]

LONGER_THAN_EVERY_BAR = "longer than every bar less its dead end and lead end"

NO_TURN = "its section does not lie on itself at any turn that the rules allow"

NO_ROOM = "no room was found on the bars at hand"

FIRST_FIT = "first fit"

GRACE: Seconds = 0.2
"""How far first fit may overrun the budget: its check comes after it, and the whole call may overrun by a second."""


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
    wanted = sum(demand.count for demand in reduced.demands)
    bounds = [material_bound(reduced)]
    same = SAME * max((bar.price for bar in reduced.stock), default=0.0)

    def nest_of(layouts: Sequence[BarLayout], engine: str, *, out_of_time: bool = False) -> BarNest:
        merged = _merge_repeats(layouts)
        rest = _left_out(job, merged, reasons, out_of_time=out_of_time)
        return BarNest(job, merged, rest, seed=deadline.seed, seconds=deadline.elapsed, engine=engine)

    def take(construction: Construction, record: Record) -> bool:
        layouts = bars_from_record(record)
        if not _are_known(layouts, reduced) or not contest.offer(nest_of(layouts, construction.name)):
            return False
        said = optional_number(record, "bound", "answer")
        if said is not None:
            bounds.append(said)
        return True

    def is_proven() -> bool:
        if contest.score is None or not wanted or contest.score.laid < wanted:
            return False
        cost = contest.score.cost
        return any(cost <= bound + same for bound in true_bounds())

    def first_fit_is_over() -> bool:
        # Even the shortest budget gets its first fit: that is what makes sure that there is an answer.
        return deadline.should_stop() or deadline.elapsed > deadline.budget + GRACE

    def true_bounds() -> list[float]:
        """Those that no nest that passed its check has gone below: such a bound is false."""
        if contest.score is None or contest.score.laid < wanted:
            return bounds
        return [bound for bound in bounds if bound <= contest.score.cost + same]

    contest = Contest(nest_of((), "", out_of_time=True), deadline, score=score_bars, check=check, report=report)
    cut_short = False
    for longest_first in (True, False):
        layouts = lay_first_fit(reduced, longest_first=longest_first, is_over=first_fit_is_over)
        cut_short = first_fit_is_over()
        contest.offer(nest_of(layouts, FIRST_FIT, out_of_time=cut_short))
        if contest.best.placed_count >= wanted or deadline.is_over:
            break
    if contest.best.placed_count == 0 and deadline.should_stop():
        raise Cancelled("Stopped on request before anything was laid.")
    if not is_proven():
        constructions = bar_constructions(reduced, contest.best, joined=Joints(reduced).may_save)
        cut_short = race(constructions, reduced, deadline, take, is_done=is_proven) and not is_proven()
    return replace(
        contest.best,
        seconds=deadline.elapsed,
        proven_optimal=is_proven(),
        cut_short=cut_short or deadline.should_stop(),
        bound=bar_bound(reduced, true_bounds()),
    )


def material_bound(job: BarJob) -> float:
    """What the pieces would cost if no bar had any waste, or the same in whole bars where there is one kind.

    Counted with a gap behind each piece and one more on each bar, which is the same room. A mitred end counts with half
    of the most that it can share with another, and so do the two outer ends of a bar, which share nothing. Lengths are
    rounded down a little, so float noise never makes the bound too high.
    """
    joints = Joints(job)
    wanted, spared = Fraction(0), math.inf
    for demand in job.demands:
        ways = joints.ways[demand.part.name]
        halves = [joints.half(kind) for way in ways for kind in (way.near, way.far)]
        shared = max((joints.half(way.near) + joints.half(way.far) for way in ways), default=0.0)
        wanted += demand.count * Fraction(max(0.0, demand.part.length + job.rules.gap - shared - SAME_POINT))
        spared = min([spared, *halves])
    outer = 2.0 * spared if math.isfinite(spared) else 0.0
    rooms = [
        (Fraction(room_on(bar, job) + job.rules.gap - outer + SAME_POINT), Fraction(bar.price)) for bar in job.stock
    ]
    if not rooms or wanted <= 0 or min(room for room, _ in rooms) <= 0:
        return 0.0
    if len(rooms) == 1:
        room, price = rooms[0]
        return float(math.ceil(wanted / room) * price)
    return float(wanted * min(price / room for room, price in rooms))


def _look_over(job: BarJob) -> tuple[BarJob, dict[str, str]]:
    """The job with only the pieces and bars that may meet, and why other pieces are left out."""
    at_hand = [bar for bar in job.stock if bar.count != 0]
    longest = max((room_on(bar, job) for bar in job.stock), default=math.inf)
    longest_at_hand = max((room_on(bar, job) for bar in at_hand), default=-math.inf)
    reasons = {}
    kept = []
    joints = Joints(job)
    for demand in job.demands:
        length = demand.part.length - SAME_POINT
        if demand.count == 0:
            continue
        if not joints.ways[demand.part.name]:
            reasons[demand.part.name] = NO_TURN
        elif length <= longest_at_hand:
            kept.append(demand)
        elif length <= longest:
            reasons[demand.part.name] = NO_STOCK
        else:
            reasons[demand.part.name] = LONGER_THAN_EVERY_BAR
    shortest = min((demand.part.length for demand in kept), default=math.inf)
    usable = tuple(bar for bar in at_hand if room_on(bar, job) >= shortest - SAME_POINT)
    return replace(job, stock=usable, demands=tuple(kept)), reasons


def _left_out(
    job: BarJob, layouts: Sequence[BarLayout], reasons: dict[str, str], *, out_of_time: bool = False
) -> tuple[Unplaced, ...]:
    """A row for each piece that is not laid as often as wanted, with the reason.

    `out_of_time` says that the layouts were left off before all was tried.
    """
    laid: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for layout in layouts:
        used[layout.stock] += layout.copies
        for name, each in Counter(piece.part for piece in layout.pieces).items():
            laid[name] += each * layout.copies
    unspent = [bar for bar in job.stock if bar.count is None or used[bar.name] < bar.count]
    longest = max((room_on(bar, job) for bar in unspent), default=-math.inf)

    def reason(demand: Demand[TubePart]) -> str:
        if demand.part.name in reasons:
            return reasons[demand.part.name]
        if demand.part.length - SAME_POINT > longest:
            return NO_STOCK
        return NO_TIME if out_of_time else NO_ROOM

    return tuple(
        Unplaced(demand.part.name, demand.count - laid[demand.part.name], reason(demand))
        for demand in job.demands
        if demand.count > laid[demand.part.name]
    )


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
