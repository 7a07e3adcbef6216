"""The states of an order and the verbs that change them. Nothing else writes `Order.state`.

What `orders.intake` does to a draft leads from draft to draft.
"""

from collections.abc import Collection

from django.db.models import Count, F
from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused, WrongState
from shopfloor.base.moves import Machine, move
from shopfloor.base.roles import require
from shopfloor.orders.models import UNDER_WAY, Order, OrderEvent, OrderState

IN_WORK = (OrderState.CONFIRMED, OrderState.COMPLETE)
"""A complete order counts as in work until it is handed over: a mark on its last piece may be taken back."""

DRAFT_TO_DRAFT = (frozenset({OrderState.DRAFT}), OrderState.DRAFT)

ORDER = Machine(
    "order",
    OrderEvent,
    "order",
    {
        "add-files": DRAFT_TO_DRAFT,
        "answer-file": DRAFT_TO_DRAFT,
        "take-out-file": DRAFT_TO_DRAFT,
        "set-line": DRAFT_TO_DRAFT,
        "confirm": (frozenset({OrderState.DRAFT}), OrderState.CONFIRMED),
        "complete": (frozenset({OrderState.CONFIRMED}), OrderState.COMPLETE),
        "reopen": (frozenset({OrderState.COMPLETE}), OrderState.CONFIRMED),
        "hand-over": (frozenset({OrderState.COMPLETE}), OrderState.HANDED_OVER),
        "take-back": (frozenset({OrderState.HANDED_OVER}), OrderState.COMPLETE),
        "cancel": (frozenset({OrderState.DRAFT, OrderState.CONFIRMED}), OrderState.CANCELLED),
    },
)


def confirm(order: Order, *, by: User, key: object = None) -> None:
    """The order goes into work; its pieces are open to be nested.

    Raises:
        BadInput: no lines, a file that is not read or not usable, or a line that lacks material or thickness.
        WrongState, NotYourRole.
    """
    require(by, "enter-order")

    def check(order: Order) -> None:
        faults = confirm_faults(order)
        if faults:
            raise BadInput(" ".join(faults))

    move(ORDER, order, "confirm", by=by, key=key, work=check)


def confirm_faults(order: Order) -> list[str]:
    """What keeps a draft from being confirmed, as sentences; empty where nothing does."""
    faults = []
    for file in order.files.select_related("drawing").annotate(line_count=Count("lines")):
        if not file.drawing.is_settled:
            faults.append(f"{file} is still being read. Wait a moment.")
        elif file.drawing.waits_for_answer:
            faults.append(f"{file} waits for an answer: choose one beside its picture.")
        elif file.drawing.state != "usable":
            faults.append(f"{file} cannot be used: correct it and upload it again, or take it out of the order.")
        elif not file.line_count:
            faults.append(f"{file}: its parts are not in the order. Take it out and add it again.")
    lines = list(order.lines.select_related("part"))
    if not lines and not faults:
        faults.append("The order has no parts yet. Add at least one drawing.")
    faults += [f"{line.part.name}: say the {' and '.join(line.missing)}." for line in lines if line.missing]
    return faults


def hand_over(order: Order, *, by: User, key: object = None) -> None:
    """The customer has the parts."""
    require(by, "hand-over-order")
    move(ORDER, order, "hand-over", by=by, key=key)


def take_back(order: Order, *, by: User, key: object = None) -> None:
    """Undoes handing over."""
    require(by, "hand-over-order")
    move(ORDER, order, "take-back", by=by, key=key)


def cancel(order: Order, *, by: User, key: object = None, why: str = "") -> None:
    """Takes the order out of work.

    Raises:
        Refused: code `pieces-under-way`, where pieces are on a nest or further; those must come to an end first.
        WrongState, NotYourRole.
    """
    require(by, "cancel-order")

    def check(order: Order) -> None:
        if order.lines.alias(under_way=UNDER_WAY - F("good_count")).filter(under_way__gt=0).exists():
            raise Refused(
                f"{order} has pieces on a nest or at the machine. Throw those nests away or finish them first.",
                "pieces-under-way",
            )

    move(ORDER, order, "cancel", by=by, key=key, why=why, work=check)


def settle_orders(order_ids: Collection[int], *, must_be_in_work: Collection[int] = ()) -> None:
    """Completes each order whose pieces are all good, and reopens a complete one where they are not any more.

    Called after the counters have changed, in the same transaction.

    Raises:
        WrongState: one that must be in work was cancelled or handed over.
    """
    if not order_ids:
        return
    # Locked before they are counted: of two tablets that mark the last two pieces, the second must see the first. And
    # an order cannot be cancelled between this look at it and the commit.
    orders = list(Order.objects.select_for_update(no_key=True).filter(pk__in=order_ids).order_by("pk"))
    for order in orders:
        if order.pk in must_be_in_work and order.state not in IN_WORK:
            raise WrongState(f"{order} is {order.get_state_display()}: its pieces cannot come back into work.")
        done = not order.lines.filter(good_count__lt=F("quantity")).exists()
        if done and order.state == OrderState.CONFIRMED:
            move(ORDER, order, "complete", by=None, set_fields={"completed_at": timezone.now()})
        elif not done and order.state == OrderState.COMPLETE:
            move(ORDER, order, "reopen", by=None, set_fields={"completed_at": None})
