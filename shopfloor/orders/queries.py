"""One function for each list or page of orders, with all that the page touches."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Count, Prefetch, Q, QuerySet
from django.utils import timezone

from shopfloor.orders.models import (
    LOSSES,
    STEPS,
    Customer,
    LineEvent,
    Order,
    OrderEvent,
    OrderFile,
    OrderLine,
    OrderState,
)
from shopfloor.stock.near_sections import near_sections, taken_instead

HEAVY = ("part__shape", "part__picture")
"""Columns of a part that a list never needs."""

BOARD_VIEWS = {
    "in-work": ("In work", (OrderState.CONFIRMED,)),
    "drafts": ("Being entered", (OrderState.DRAFT,)),
    "complete": ("Complete", (OrderState.COMPLETE,)),
    "ended": ("Handed over or cancelled", (OrderState.HANDED_OVER, OrderState.CANCELLED)),
}
MOST_ON_BOARD = 200


@dataclass(frozen=True)
class BoardRow:
    """An order on the board, with its lines and what they add up to."""

    order: Order

    @cached_property
    def lines(self) -> list[OrderLine]:
        return list(self.order.lines.all())

    @cached_property
    def counts(self) -> Counter[str]:
        """Sums of the lines: `quantity` and `<step>_count` for every step and loss."""
        total: Counter[str] = Counter()
        for line in self.lines:
            total["quantity"] += line.quantity
            for step in (*STEPS, *LOSSES):
                total[f"{step}_count"] += getattr(line, f"{step}_count")
        return total

    @property
    def open_count(self) -> int:
        return self.counts["quantity"] - sum(self.counts[f"{step}_count"] for step in STEPS)

    @property
    def days_left(self) -> int:
        return (self.order.due_on - timezone.localdate()).days

    @property
    def is_late(self) -> bool:
        return self.order.state == OrderState.CONFIRMED and self.days_left < 0

    @property
    def is_tight(self) -> bool:
        return self.order.state == OrderState.CONFIRMED and 0 <= self.days_left <= 2

    @property
    def holdup(self) -> str:
        """What the order waits for, furthest back first, as a sentence; "" where it waits for nothing."""
        if self.order.state != OrderState.CONFIRMED:
            return ""
        n = self.counts
        steps = (
            (self.open_count, "to be nested"),
            (n["planned_count"], "being nested"),
            (n["nested_count"], "to be cut"),
            (n["cut_count"], "to be broken out"),
            (n["broken_out_count"], "to be inspected"),
            (n["rework_count"], "in rework"),
        )
        waiting = [f"{count} {words}" for count, words in steps if count]
        return f"Waits: {', '.join(waiting)}." if waiting else ""


def board(view: str, words: str = "", start: int = 0) -> tuple[list[BoardRow], bool]:
    """At most MOST_ON_BOARD rows of one view of the board from the `start`th on, and whether more follow.

    Earliest due first; `words` narrow it (number, customer, reference, part).
    """
    states = BOARD_VIEWS[view][1]
    orders = Order.objects.filter(state__in=states).select_related("customer").prefetch_related(_light_lines())
    for word in words.split():
        match = Q(customer__name__icontains=word) | Q(reference__icontains=word) | Q(lines__part__name__icontains=word)
        if word.isdecimal():
            match |= Q(pk=int(word[:9]))
        orders = orders.filter(match)
    newest_first = view in ("complete", "ended", "drafts")
    ordered = orders.distinct().order_by(*(("-pk",) if newest_first else ("due_on", "pk")))
    rows = [BoardRow(order) for order in ordered[start : start + MOST_ON_BOARD + 1]]
    return rows[:MOST_ON_BOARD], len(rows) > MOST_ON_BOARD


def board_counts() -> dict[str, int]:
    """How many orders each view of the board holds."""
    by_state = dict(Order.objects.order_by().values_list("state").annotate(Count("pk")))
    return {view: sum(by_state.get(state, 0) for state in states) for view, (_, states) in BOARD_VIEWS.items()}


def order_with_lines(order_id: int) -> BoardRow | None:
    """An order with its lines, their parts with pictures, and files."""
    lines = OrderLine.objects.select_related("part__section", "material", "section").defer("part__shape")
    # As the files were put in, not as their reading ended.
    lines = lines.order_by("file_id", "pk")
    orders = Order.objects.select_related("customer").prefetch_related(Prefetch("lines", lines))
    order = orders.filter(pk=order_id).first()
    return None if order is None else BoardRow(order)


def files_of(order: Order) -> QuerySet[OrderFile]:
    """The files of an order as its entry page shows them, newest last."""
    lines = OrderLine.objects.select_related("part__section", "material", "section").defer("part__shape").order_by("pk")
    return order.files.select_related("drawing", "order").prefetch_related(Prefetch("lines", lines)).order_by("pk")


def with_sections_offered(files: Iterable[OrderFile]) -> list[OrderFile]:
    """The files, each line of tube with `taken`, the section it takes in place of the drawn one, or with `offered`, one
    in stock that is near it; None where there is neither.
    """
    files = list(files)
    lines = [line for file in files for line in file.lines.all() if line.is_tube]
    offered = near_sections({line.part.section for line in lines})
    for line in lines:
        is_other = line.section_id != line.part.section_id
        line.taken = taken_instead(line.part.section, line.section) if is_other else None
        line.offered = None if is_other else offered.get(line.part.section_id)
    return files


@dataclass(frozen=True)
class HistoryRow:
    """One line of an order's history: when, who, what."""

    at: object
    who: str
    what: str
    why: str


ORDER_WORDS = {
    "enter": "Order entered",
    "correct": "Order corrected",
    "add-files": "Drawings added",
    "answer-file": "Drawing read again",
    "take-out-file": "Drawing taken out",
    "set-line": "Line set",
    "confirm": "Order confirmed",
    "complete": "Order complete",
    "reopen": "Order in work again",
    "hand-over": "Handed over",
    "take-back": "Handing over taken back",
    "cancel": "Order cancelled",
}
STEP_WORDS = {
    "": "open again",
    "planned": "taken for nesting",
    "nested": "nested",
    "cut": "cut",
    "broken_out": "broken out",
    "rework": "in rework",
    "good": "good",
    "scrapped": "scrapped",
    "lost": "lost",
}
MOST_HISTORY = 300


def history_of(order: Order) -> list[HistoryRow]:
    """What happened to the order and its pieces, newest first."""
    events = OrderEvent.objects.filter(order=order).select_related("actor").order_by("-pk")[:MOST_HISTORY]
    rows = [HistoryRow(e.at, _who(e), ORDER_WORDS.get(e.verb, e.verb), e.why) for e in events]
    moves = LineEvent.objects.filter(line__order=order).select_related("actor", "line__part")
    for move in moves.defer("line__part__shape", "line__part__picture").order_by("-pk")[:MOST_HISTORY]:
        place = f" ({move.place})" if move.place else ""
        what = f"{move.count} × {move.line.part.name}: {STEP_WORDS[move.to_step]}{place}"
        rows.append(HistoryRow(move.at, _who(move), what, move.why))
    return sorted(rows, key=lambda row: row.at, reverse=True)[:MOST_HISTORY]  # type: ignore[arg-type, return-value]


def _who(event: OrderEvent | LineEvent) -> str:
    return str(event.actor) if event.actor else "the server"


def _light_lines() -> Prefetch:
    lines = OrderLine.objects.select_related("part", "material", "section").defer(*HEAVY).order_by("file_id", "pk")
    return Prefetch("lines", lines)


def customers() -> QuerySet[Customer]:
    """Customers by name with how many orders each has in work (`in_work`) and in all (`all_orders`)."""
    in_work = Count("orders", filter=Q(orders__state=OrderState.CONFIRMED))
    return Customer.objects.annotate(in_work=in_work, all_orders=Count("orders"))


def board_of_customer(customer: Customer) -> list[BoardRow]:
    """A customer's orders, newest first."""
    orders = customer.orders.select_related("customer").prefetch_related(_light_lines()).order_by("-pk")
    return [BoardRow(order) for order in orders[:MOST_ON_BOARD]]
