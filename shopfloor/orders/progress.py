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


@dataclass(frozen=True)
class Shift:
    """So many pieces of a line from one step to another. Steps are `STEPS`, `LOSSES` or OPEN."""

    line_id: int
    from_step: str
    to_step: str
    count: int


@transaction.atomic
def report(shifts: Iterable[Shift], *, by: User | None, place: str = "", why: str = "") -> None:
    """Books the shifts, all or none, and completes or reopens orders that they finish or unfinish.

    Raises:
        WrongState: a line has fewer pieces in a step than are to leave it, or fewer open ones than are taken.
    """
    wanted = [shift for shift in shifts if shift.count > 0 and shift.from_step != shift.to_step]
    # Always in id order, so that two tablets that report on the same lines wait for each other once, not for ever.
    for shift in sorted(wanted, key=lambda s: (s.line_id, s.from_step, s.to_step)):
        _shift(shift)
    LineEvent.objects.bulk_create(
        LineEvent(
            line_id=s.line_id, from_step=s.from_step, to_step=s.to_step, count=s.count, actor=by, place=place, why=why
        )
        for s in wanted
    )
    touched = {s.line_id for s in wanted if "good" in (s.from_step, s.to_step)}
    if touched:
        order_state.settle_orders(set(OrderLine.objects.filter(pk__in=touched).values_list("order_id", flat=True)))


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
