"""Moves pieces of order lines from step to step. The only module that changes a line's counters.

Planning takes open pieces, the floor reports what became of them; each report is a ledger row and a counter change in
one transaction. A piece that is scrapped or lost leaves the steps, and so is open again and wanted by the next nest.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.db.models import F

from shopfloor.accounts.models import User
from shopfloor.base.errors import WrongState
from shopfloor.orders import order_state
from shopfloor.orders.models import LOSSES, STEPS, LineEvent, OrderLine

OPEN = ""
"""The step of a piece that is still to be nested."""

COUNTED = (*STEPS, *LOSSES)

LONGEST_PLACE = LineEvent._meta.get_field("place").max_length
LONGEST_WHY = LineEvent._meta.get_field("why").max_length
"""The ledger keeps the beginning of longer words; the event that they were said for keeps them whole."""


@dataclass(frozen=True)
class Shift:
    """So many pieces of a line from one step to another, and why, in words. Steps are `STEPS`, `LOSSES` or OPEN."""

    line_id: int
    from_step: str
    to_step: str
    count: int
    why: str = ""


@transaction.atomic
def report(shifts: Iterable[Shift], *, by: User | None, place: str = "") -> None:
    """Books the shifts, all or none, and completes or reopens orders that they finish or unfinish.

    Raises:
        WrongState: a line has fewer pieces in a step than are to leave it, or fewer open ones than are taken; or pieces
            are to come into work for an order that is not in work.
    """
    wanted = [shift for shift in shifts if shift.count > 0 and shift.from_step != shift.to_step]
    # Always in id order, so that two tablets that report on the same lines wait for each other once, not for ever.
    for shift in sorted(wanted, key=lambda s: (s.line_id, s.from_step, s.to_step)):
        _shift(shift)
    LineEvent.objects.bulk_create(
        LineEvent(
            line_id=s.line_id,
            from_step=s.from_step,
            to_step=s.to_step,
            count=s.count,
            actor=by,
            place=place[:LONGEST_PLACE],
            why=s.why[:LONGEST_WHY],
        )
        for s in wanted
    )
    # Pieces that go into work, or back into it after they had come to an end, need an order that is in work.
    into_work = _orders_of(s for s in wanted if s.from_step in (OPEN, "good", *LOSSES) and s.to_step != OPEN)
    made_good = _orders_of(s for s in wanted if "good" in (s.from_step, s.to_step))
    order_state.settle_orders(into_work | made_good, must_be_in_work=into_work)


def _orders_of(shifts: Iterable[Shift]) -> set[int]:
    lines = {shift.line_id for shift in shifts}
    return set(OrderLine.objects.filter(pk__in=lines).values_list("order_id", flat=True)) if lines else set()


def _shift(shift: Shift) -> None:
    changes = {}
    rows = OrderLine.objects.filter(pk=shift.line_id)
    if shift.from_step != OPEN:
        column = f"{_known(shift.from_step)}_count"
        rows = rows.filter(**{f"{column}__gte": shift.count})
        changes[column] = F(column) - shift.count
    if shift.to_step != OPEN:
        column = f"{_known(shift.to_step)}_count"
        changes[column] = F(column) + shift.count
    try:
        with transaction.atomic():
            changed = rows.update(**changes)
    except IntegrityError as fault:  # the constraint that pieces under way never exceed the quantity
        raise WrongState("These pieces were taken by another nest just now. Look again.") from fault
    if changed != 1:
        raise WrongState("The count of this line changed just now. Reload the page and try again.")


def _known(step: str) -> str:
    if step not in COUNTED:
        message = f"{step!r} is no step of a piece"
        raise ValueError(message)
    return step
