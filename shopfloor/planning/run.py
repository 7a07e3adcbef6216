"""Lays out one nest: job, engine, check, cut files, save. Whatever happens ends as a state and a sentence."""

import logging

from django.db import transaction
from django.utils import timezone

from nesting import route
from nesting.errors import BadValue, Cancelled, NestingError
from nesting.model.filled import filled_count
from nesting.model.nest import Nest as NestNoun
from nesting.model.nest import SheetJob
from nesting.records.nests import nest_to_record, sheet_layout_from_record
from shopfloor.base.errors import Refused, WrongState
from shopfloor.base.leases import beating, claim, still_mine
from shopfloor.orders import progress
from shopfloor.orders.progress import OPEN, Shift
from shopfloor.planning import nest_state
from shopfloor.planning.bound import bound_facts
from shopfloor.planning.cut_files import layouts_of
from shopfloor.planning.due_apart import DueApart
from shopfloor.planning.follow import Following, following
from shopfloor.planning.job import demands_of, job_of, placed_of_lines, shares_of
from shopfloor.planning.models import Layout, Nest, NestDemand
from shopfloor.planning.nest_state import NEST_WORK
from shopfloor.stock import reserve

log = logging.getLogger(__name__)


def run(nest_id: int) -> None:
    """Lays the nest out if it still waits."""
    nest = claim(NEST_WORK, nest_id)
    if nest is None:
        return
    try:
        with beating(nest) as lost, following(nest, lost) as follow:
            # A stop that was asked of an earlier attempt is not asked of this one.
            still_mine(nest, started_at=timezone.now(), first_at=None, stop_asked=False)
            demands = demands_of(nest.rival_of or nest)
            answer = _lay_out(nest, demands, follow)
            _save(nest, demands, answer)
    except WrongState:
        log.info("Nest %s moved on while it was laid out; this result is dropped.", nest_id)
    except Cancelled:
        _give_up(nest, "It was stopped before there was any nest to keep. Nest again.")
    except Refused as refusal:
        _give_up(nest, f"{refusal} Nest again." if refusal.code == "stock-gone" else str(refusal))
    except BadValue as fault:
        _give_up(nest, str(fault))
    except NestingError as fault:
        log.warning("Laying out nest %s failed: %s", nest_id, fault)
        _give_up(nest, f"The engine came to no result: {fault} Nest again, with fewer pieces or more time.")
    except Exception:  # the task's outer edge: the fault goes onto the row
        log.exception("Laying out nest %s failed.", nest_id)
        _give_up(nest, "A fault of the server stopped this nest. Nest again; if it stops again, tell us.")


def _lay_out(nest: Nest, demands: list[NestDemand], follow: Following) -> NestNoun:
    job, budget = job_of(nest, demands), float(nest.budget_s)
    if nest.held is None and isinstance(job, SheetJob):
        apart = DueApart(job, shares_of(nest, demands))
        answer = route.lay_out(
            apart.job,
            budget=budget,
            seed=nest.seed,
            on_progress=lambda best: follow.show(apart.joined(best)),
            should_stop=follow.should_stop,
        )
        return apart.joined(answer)
    if nest.held is None:
        return route.lay_out(
            job, budget=budget, seed=nest.seed, on_progress=follow.show, should_stop=follow.should_stop
        )
    if nest.rival_of is None or nest.rival_of.version != nest.held["version"] or not isinstance(job, SheetJob):
        raise Refused("The nest whose pieces stay was changed meanwhile. Hold them again and lay out the rest again.")
    fixed = [sheet_layout_from_record(sheet, "held") for sheet in nest.held["sheets"]]
    return route.lay_out_around(
        job, fixed, budget=budget, seed=nest.seed, on_progress=follow.show, should_stop=follow.should_stop
    )


def _give_up(nest: Nest, sentence: str) -> None:
    try:
        nest_state.give_up(nest, sentence)
    except WrongState:
        log.info("Nest %s was cancelled, or another worker has it.", nest.pk)


def _save(nest: Nest, demands: list[NestDemand], answer: NestNoun) -> None:
    """Stores a nest that passes its check, with layouts, cut files, reserved stock and settled demand.

    A rival holds nothing, so it gets layouts and cut files alone.

    Raises:
        Refused: nothing was placed, the check found a fault, or the stock was promised to another nest meanwhile.
    """
    if faults := route.check_nest(answer):
        raise Refused(f"The nest did not pass its check and was not kept: {faults[0].message} Nest again.")
    if not answer.placed_count:
        raise Refused(
            f"Nothing could be placed. {_reasons(answer)} Enter stock that they fit on, or correct the order."
        )
    placed = placed_of_lines(nest, demands, answer)
    # Drawn before the transaction, in which nobody else may have to wait for pictures.
    layouts = layouts_of(nest, answer)

    def work(nest: Nest) -> None:
        Layout.objects.bulk_create(layouts)
        for demand in demands:
            NestDemand.objects.filter(pk=demand.pk).update(**placed[demand.pk]._asdict())
        shifts = [Shift(d.line_id, "planned", "nested", placed[d.pk].count) for d in demands]
        shifts += [Shift(d.line_id, "planned", OPEN, d.count - placed[d.pk].count) for d in demands]
        progress.report(shifts, by=None, place=str(nest))
        reserve.reserve(nest_state.stock_of(nest))

    fields = {
        "result": nest_to_record(answer),
        "placed_count": answer.placed_count,
        "filled_count": filled_count(answer),
        "yield_share": answer.yield_share,
        "proven_optimal": answer.proven_optimal,
        "bound": bound_facts(answer),
        "unplaced": [{"part": u.part, "count": u.count, "reason": u.reason} for u in answer.unplaced],
    }
    if nest.rival_of_id:
        nest_state.propose(nest, fields=fields, layouts=layouts)
        return
    with transaction.atomic():
        nest_state.save(nest, fields=fields, work=work)


def _reasons(answer: NestNoun, most: int = 5) -> str:
    """Why parts were not placed, a sentence for each of the first few."""
    sentences = [f"{left.part}: {left.reason.rstrip('.')}." for left in answer.unplaced[:most]]
    if (more := len(answer.unplaced) - most) > 0:
        sentences.append(f"So it is with {more} more.")
    return " ".join(sentences)
