"""Random days of a small shop: any verb at any time by anybody. After each, everything is counted again from events."""

import random
import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from shopfloor.base import leases
from shopfloor.base.errors import Refused
from shopfloor.base.leases import claim, sweep
from shopfloor.floor.centring import check_centring
from shopfloor.floor.inspection import VERDICTS, Verdict, all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut, mark_failed
from shopfloor.floor.models import FloorEvent, Load, LoadState, ScrapReason, Workpiece, WorkpieceState
from shopfloor.floor.pull import pull, pull_next, put_back
from shopfloor.floor.release import recall, release
from shopfloor.floor.undo import undo
from shopfloor.orders import order_state
from shopfloor.orders.models import LineEvent, Order, OrderEvent, OrderLine, OrderState
from shopfloor.planning import nest_state
from shopfloor.planning.demand import waiting_groups
from shopfloor.planning.models import Nest, NestEvent, NestState
from shopfloor.planning.nest_state import NEST_WORK
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.rival import ask_for_rival, choose
from shopfloor.planning.run import run
from shopfloor.stock.models import Kind, StockItem
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import sheet_part, tube_part
from tests.ledger import assert_all_agrees

# Mostly somebody who may, or nothing would ever be done.
PEOPLE = ["manager"] * 9 + ["office", "operator", "inspector", "nobody"]
STATES = [*VERDICTS * 3, WorkpieceState.LOST]
REASONS = [*ScrapReason.values, ""]


def all_there_is():
    """Everything that a verb may change."""
    steps = [f.name for f in OrderLine._meta.get_fields() if f.name.endswith("_count")]
    rows = [
        Order.objects.values_list("pk", "state"),
        OrderLine.objects.values_list("pk", *steps),
        Nest.objects.values_list("pk", "state", "attempt", "stop_asked"),
        Load.objects.values_list("pk", "state", "pulled_by", "remnant"),
        Workpiece.objects.values_list("pk", "state", "reason"),
        StockItem.objects.values_list("pk", "on_hand", "reserved"),
        *(events.objects.values_list("pk") for events in (OrderEvent, LineEvent, NestEvent, FloorEvent)),
    ]
    return [list(each.order_by("pk")) for each in rows]


class Day:
    """What may happen in the shop, a method each; `told` lists what did."""

    def __init__(self, shop, seed):
        self.shop = shop
        self.random = random.Random(seed)
        self.told = [f"seed {seed}"]
        self.parts = [sheet_part(), sheet_part(length=210.0), tube_part(), tube_part(length=2400.0)]
        shop.sheets(on_hand=12, length_mm=230, width_mm=170)
        shop.bars(on_hand=6)
        for _ in range(8):
            self.an_order_comes_in()

    def one_of(self, model, *states):
        """A row, mostly in one of the states; None where there is none at all."""
        fits = list(model.objects.filter(state__in=states).order_by("pk"))
        rows = fits if fits and self.random.random() < 0.9 else list(model.objects.order_by("pk"))
        return self.random.choice(rows) if rows else None

    def some_of(self, numbers, share):
        return {number for number in numbers if self.random.random() < share}

    def do(self, verb, row, **said):
        """Does the verb, perhaps twice. What is refused changes nothing, and neither does what is sent again."""
        if row is None:
            return
        before, who = all_there_is(), self.random.choice(PEOPLE)
        asked = {**said, "by": getattr(self.shop.people, who), "key": uuid.UUID(int=len(self.told))}
        self.told.append(f"{verb.__name__} {row} {said} by {who}")
        refusal = None
        try:
            verb(row, **asked)
        except Refused as fault:
            refusal = fault
        if refusal:
            self.told[-1] += f": {refusal}"
            assert all_there_is() == before, f"refused, and changed something: {refusal}"
            assert str(refusal).endswith("."), refusal
        elif self.random.random() < 0.4:
            after = all_there_is()
            verb(row, **asked)
            assert all_there_is() == after, "sent twice, and counted twice"

    def an_order_comes_in(self):
        due_on = timezone.localdate() + timedelta(days=self.random.randint(0, 20))
        line = self.shop.line(
            self.random.randint(1, 5), self.random.choice(self.parts), order=ConfirmedOrderFactory(due_on=due_on)
        )
        self.told.append(f"{line.order} comes in for {line}")

    def an_order_is_handed_over(self):
        self.do(order_state.hand_over, self.one_of(Order, OrderState.COMPLETE))

    def an_order_is_taken_back(self):
        self.do(order_state.take_back, self.one_of(Order, OrderState.HANDED_OVER))

    def an_order_is_cancelled(self):
        self.do(order_state.cancel, self.one_of(Order, OrderState.CONFIRMED))

    def stock_comes_in(self):
        self.shop.sheets(on_hand=self.random.randint(0, 2), length_mm=400, width_mm=200)
        self.shop.bars(on_hand=self.random.randint(0, 1))

    def a_nest_is_asked_for(self):
        if groups := waiting_groups():
            group = self.random.choice(groups)
            counts, more = ({line.pk: self.random.randint(0, 6) for line in group.lines} for _ in range(2))
            only = self.random.choice([None, counts])
            wish = {"fill": self.random.choice([None, more]), "together": self.random.random() < 0.3}
            # Bars are asked for without such wishes, but now and then one is, and refused.
            is_wished = group.kind == Kind.SHEET or self.random.random() < 0.1
            self.do(ask_for_nest, group.key, only=only, **(wish if is_wished else {}))

    def a_worker_hears_of_a_nest(self):
        if nest := self.one_of(Nest, NestState.QUEUED):
            self.told.append(f"a worker hears of {nest}")
            for _ in range(self.random.choice([1, 2])):
                run(nest.pk)

    def a_worker_dies_over_a_nest(self):
        nest = self.one_of(Nest, NestState.QUEUED)
        if nest and claim(NEST_WORK, nest.pk):
            self.told.append(f"a worker dies over {nest}")
            Nest.objects.filter(pk=nest.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
            sweep()
            nest.refresh_from_db()
            assert nest.state == (NestState.FAILED if nest.tries == 3 else NestState.QUEUED)

    def a_nest_is_cancelled(self):
        self.do(nest_state.cancel, self.one_of(Nest, NestState.QUEUED))

    def a_nest_is_thrown_away(self):
        self.do(nest_state.throw_away, self.one_of(Nest, NestState.READY, NestState.FAILED))

    def a_nest_gets_a_rival(self):
        self.do(ask_for_rival, self.one_of(Nest, NestState.READY))

    def a_rival_is_chosen(self):
        self.do(choose, self.one_of(Nest, NestState.PROPOSED))

    def a_nest_is_released(self):
        self.do(release, self.one_of(Nest, NestState.READY))

    def a_nest_is_recalled(self):
        self.do(recall, self.one_of(Nest, NestState.RELEASED))

    def the_next_load_is_pulled(self):
        self.do(pull_next, self.random.choice([self.shop.machine, self.shop.tube_machine]))

    def a_load_is_pulled_out_of_turn(self):
        self.do(pull, self.one_of(Load, LoadState.WAITING))

    def a_load_is_put_back(self):
        self.do(put_back, self.one_of(Load, LoadState.AT_MACHINE))

    def a_bar_is_centred(self):
        measured = self.random.choice([{}, {"height_mm": "40.1"}, {"height_mm": "400"}])
        self.do(check_centring, self.one_of(Load, LoadState.AT_MACHINE), measured=measured)

    def a_load_is_cut(self):
        self.do(mark_cut, self.one_of(Load, LoadState.AT_MACHINE), keep_remnant=self.random.random() < 0.5)

    def a_cut_fails(self):
        why, spoiled = self.random.choice(["head touched", " "]), self.random.random() < 0.5
        self.do(mark_failed, self.one_of(Load, LoadState.AT_MACHINE), why=why, stock_spoiled=spoiled)

    def pieces_are_broken_out(self):
        if load := self.one_of(Load, LoadState.CUT):
            # Now and then one number more than there are, to be refused.
            here = range(1, load.workpieces.count() + self.random.choice([1, 1, 1, 2]))
            numbers = self.random.choice([None, self.some_of(here, 0.5)])
            self.do(break_out, load, numbers=numbers, lost=self.some_of(here, 0.15))

    def pieces_are_inspected(self):
        if load := self.one_of(Load, LoadState.BROKEN_OUT):
            waiting = load.workpieces.filter(state__in=(WorkpieceState.BROKEN_OUT, WorkpieceState.REWORK))
            numbers = sorted(waiting.values_list("number", flat=True)) or [1]
            chosen = self.some_of(numbers, 0.7)
            verdicts = {n: Verdict(self.random.choice(STATES), self.random.choice(REASONS)) for n in chosen}
            self.do(inspect, load, verdicts=self.random.choice([verdicts, all_good(load)]))

    def a_mark_is_taken_back(self):
        ended = (LoadState.CUT, LoadState.BROKEN_OUT, LoadState.INSPECTED, LoadState.FAILED)
        self.do(undo, self.one_of(Load, *ended))


# What leads on comes more often, or most days would end before anything is cut.
WHAT_HAPPENS = {
    Day.an_order_comes_in: 3,
    Day.an_order_is_handed_over: 1,
    Day.an_order_is_taken_back: 1,
    Day.an_order_is_cancelled: 1,
    Day.stock_comes_in: 1,
    Day.a_nest_is_asked_for: 4,
    Day.a_worker_hears_of_a_nest: 6,
    Day.a_worker_dies_over_a_nest: 1,
    Day.a_nest_is_cancelled: 1,
    Day.a_nest_is_thrown_away: 1,
    Day.a_nest_gets_a_rival: 2,
    Day.a_rival_is_chosen: 2,
    Day.a_nest_is_released: 5,
    Day.a_nest_is_recalled: 1,
    Day.the_next_load_is_pulled: 3,
    Day.a_load_is_pulled_out_of_turn: 2,
    Day.a_load_is_put_back: 2,
    Day.a_bar_is_centred: 2,
    Day.a_load_is_cut: 4,
    Day.a_cut_fails: 2,
    Day.pieces_are_broken_out: 4,
    Day.pieces_are_inspected: 5,
    Day.a_mark_is_taken_back: 2,
}


MARKS = {"pull", "mark-cut", "mark-failed", "break-out", "inspect"}


@pytest.mark.slow
@pytest.mark.django_db
@pytest.mark.parametrize("seed", [1, 3])
def test_whatever_is_done_in_whatever_order_every_count_is_what_events_tell(shop, monkeypatch, seed):
    monkeypatch.setattr(leases, "_chores", [])
    day = Day(shop, seed)
    moments = day.random.choices(list(WHAT_HAPPENS), list(WHAT_HAPPENS.values()), k=2000)
    seen = None
    try:
        for count, moment in enumerate(moments, 1):
            moment(day)
            if (now := all_there_is()) != seen:
                seen = now
                assert_all_agrees()
            # No seed is sure to bring each mark early, so the day goes on until all were made.
            if count >= 150 and set(FloorEvent.objects.values_list("verb", flat=True)) >= MARKS:
                break
        else:
            pytest.fail("Some mark was never made.")
    except BaseException as fault:
        fault.add_note("\n".join(day.told))
        raise
