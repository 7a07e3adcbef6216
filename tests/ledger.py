"""Recounts everything the shop counts, from the rows that tell what happened, and compares."""

from collections import Counter

from django.db.models import Sum

from shopfloor.floor.models import Load, LoadState, Workpiece
from shopfloor.orders.models import LOSSES, STEPS, LineEvent, Order, OrderLine, OrderState
from shopfloor.planning.models import Nest, NestDemand, NestState
from shopfloor.planning.nest_state import stock_of
from shopfloor.stock.models import StockItem

COUNTED = (*STEPS, *LOSSES)


def assert_ledger_agrees():
    """Counters of each line are the sums of its events, and no line has more pieces under way than were ordered."""
    for line in OrderLine.objects.all():
        told = Counter()
        for event in LineEvent.objects.filter(line=line):
            told[event.from_step] -= event.count
            told[event.to_step] += event.count
        counted = {step: getattr(line, f"{step}_count") for step in COUNTED}
        assert counted == {step: told[step] for step in COUNTED}, f"line {line.pk}: {counted} is not what events tell"
        assert 0 <= line.under_way_count <= line.quantity
        assert line.open_count == line.quantity - sum(counted[step] for step in STEPS)


def assert_pieces_agree():
    """Counters of each line are what its workpieces and the demand of its nests say."""
    for line in OrderLine.objects.all():
        pieces = Counter(Workpiece.objects.filter(line=line).values_list("state", flat=True))
        counted = {step: getattr(line, f"{step}_count") for step in COUNTED}
        demand = NestDemand.objects.filter(line=line)
        planned = (
            demand.filter(nest__state__in=(NestState.QUEUED, NestState.LAYING)).aggregate(n=Sum("count"))["n"] or 0
        )
        # Before a release, and after a recall, a nest's pieces are known by its demand alone.
        nested = demand.filter(nest__state=NestState.READY).aggregate(n=Sum("count"))["n"] or 0
        expected = {step: pieces[step] for step in COUNTED}
        expected["planned"] = planned
        expected["nested"] += nested
        assert counted == expected, f"line {line.pk}: {counted} is not what pieces and nests say, {expected}"


def assert_stock_agrees():
    """What is promised of each stock item is what ready nests and loads that are not cut yet will use."""
    promised = Counter()
    for load in Load.objects.filter(state__in=(LoadState.WAITING, LoadState.AT_MACHINE)):
        promised[load.stock_id] += 1
    for nest in Nest.objects.filter(state=NestState.READY):
        promised.update(stock_of(nest))
    for item in StockItem.objects.all():
        assert item.reserved == promised[item.pk], f"{item} (no. {item.pk}): {item.reserved} promised"
        assert item.on_hand is None or 0 <= item.reserved <= item.on_hand


def assert_orders_agree():
    """An order is complete exactly where all its pieces are good."""
    for order in Order.objects.filter(state__in=(OrderState.CONFIRMED, OrderState.COMPLETE, OrderState.HANDED_OVER)):
        all_good = all(line.good_count == line.quantity for line in order.lines.all())
        assert all_good == (order.state != OrderState.CONFIRMED), f"{order} is {order.state}"
    for order in Order.objects.filter(state=OrderState.CANCELLED):
        assert all(line.under_way_count == line.good_count for line in order.lines.all()), f"{order} is cancelled"


def assert_all_agrees():
    assert_ledger_agrees()
    assert_pieces_agree()
    assert_stock_agrees()
    assert_orders_agree()
