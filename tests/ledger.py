"""Recounts everything the shop counts, from the rows that tell what happened, and compares."""

from collections import Counter

from shopfloor.floor.models import FloorEvent, Load, LoadState, Workpiece, WorkpieceState
from shopfloor.orders.models import LOSSES, STEPS, LineEvent, Order, OrderEvent, OrderLine, OrderState
from shopfloor.planning.demand import waiting_groups
from shopfloor.planning.models import Nest, NestDemand, NestEvent, NestState
from shopfloor.planning.nest_state import stock_of
from shopfloor.stock.models import StockItem

COUNTED = (*STEPS, *LOSSES)


def counts_by_line():
    """{line id: Counter of steps}, from line events alone; no step is ever left by more pieces than it has."""
    counts = {pk: Counter() for pk in OrderLine.objects.values_list("pk", flat=True)}
    for line, old, new, count in LineEvent.objects.order_by("pk").values_list("line", "from_step", "to_step", "count"):
        counts[line][old] -= count
        counts[line][new] += count
        assert old == "" or counts[line][old] >= 0, f"{count} of line {line} left {old}, where there were fewer"
    return counts


def assert_ledger_agrees():
    """Counters of each line are the sums of its events, and no line has more pieces under way than were ordered."""
    told = counts_by_line()
    for line in OrderLine.objects.all():
        counted = {step: getattr(line, f"{step}_count") for step in COUNTED}
        assert counted == {step: told[line.pk][step] for step in COUNTED}, f"line {line.pk}: {counted} is not told"
        assert 0 <= line.under_way_count <= line.quantity
        assert line.open_count == line.quantity - sum(counted[step] for step in STEPS)


def assert_pieces_agree():
    """Counters of each line are what its workpieces and the demand of its nests say."""
    expected = {pk: Counter() for pk in OrderLine.objects.values_list("pk", flat=True)}
    for line, state in Workpiece.objects.values_list("line", "state"):
        expected[line][state] += 1
    for line, state, count in NestDemand.objects.values_list("line", "nest__state", "count"):
        if state in (NestState.QUEUED, NestState.LAYING):
            expected[line]["planned"] += count
        # Before a release, and after a recall, a nest's pieces are known by its demand alone.
        elif state == NestState.READY:
            expected[line]["nested"] += count
    for line in OrderLine.objects.all():
        counted = {step: getattr(line, f"{step}_count") for step in COUNTED}
        said = {step: expected[line.pk][step] for step in COUNTED}
        assert counted == said, f"line {line.pk}: {counted} is not what pieces and nests say, {said}"


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
    orders = Order.objects.prefetch_related("lines")
    for order in orders.filter(state__in=(OrderState.CONFIRMED, OrderState.COMPLETE, OrderState.HANDED_OVER)):
        all_good = all(line.good_count == line.quantity for line in order.lines.all())
        assert all_good == (order.state != OrderState.CONFIRMED), f"{order} is {order.state}"
    for order in orders.filter(state=OrderState.CANCELLED):
        assert all(line.under_way_count == line.good_count for line in order.lines.all()), f"{order} is cancelled"


def assert_history_agrees():
    """Every event starts from the state in which the one before it ended, and the last one ends in the state there is.

    Nests, loads, their pieces and the lines' counters are built up again from events alone.
    """
    nests, loads, pieces = {}, {}, {}
    for event in NestEvent.objects.order_by("pk"):
        # A worker that takes a nest, or loses it, writes no event.
        before = NestState.QUEUED if event.from_state == NestState.LAYING else event.from_state
        assert before == nests.get(event.nest_id, ""), f"{event.verb} of nest {event.nest_id} from {event.from_state}"
        nests[event.nest_id] = event.to_state
    for nest, state in Nest.objects.values_list("pk", "state"):
        told = NestState.LAYING if (nests[nest], state) == (NestState.QUEUED, NestState.LAYING) else nests[nest]
        assert state == told, f"nest {nest} is {state}"
    for event in FloorEvent.objects.order_by("pk"):
        assert event.from_state == loads.get(event.load_id, LoadState.WAITING), f"{event.verb} of load {event.load_id}"
        loads[event.load_id] = event.to_state
        for number, old, new, old_reason, reason in event.pieces:
            place = (event.load_id, number)
            assert (old, old_reason) == pieces.get(place, (WorkpieceState.NESTED, "")), f"{event.verb} of {place}"
            pieces[place] = (new, reason)
    for load, state in Load.objects.values_list("pk", "state"):
        assert state == loads.get(load, LoadState.WAITING), f"load {load} is {state}"
    for load, number, *stands in Workpiece.objects.values_list("load", "number", "state", "reason"):
        told = pieces.get((load, number), (WorkpieceState.NESTED, ""))
        assert tuple(stands) == told, f"piece {number} of load {load} is {stands}"
    orders = dict(OrderEvent.objects.order_by("pk").values_list("order", "to_state"))
    for order, state in Order.objects.filter(pk__in=orders).values_list("pk", "state"):
        assert state == orders[order], f"order {order} is {state}"


def assert_demand_agrees():
    """What waits to be nested is what was ordered less what is under way, told from events, of orders in work."""
    counts = counts_by_line()
    told = Counter()
    for line, quantity in OrderLine.objects.filter(order__state=OrderState.CONFIRMED).values_list("pk", "quantity"):
        told[line] = quantity - sum(counts[line][step] for step in STEPS)
    waiting = {line.pk: line.open_count for group in waiting_groups() for line in group.lines}
    assert waiting == +told


def assert_all_agrees():
    assert_ledger_agrees()
    assert_pieces_agree()
    assert_stock_agrees()
    assert_orders_agree()
    assert_history_agrees()
    assert_demand_agrees()
