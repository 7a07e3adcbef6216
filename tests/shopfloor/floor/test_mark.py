"""Marks on a load: what they do to pieces, order lines and stock, once, whoever sends them and however often."""

import uuid

import pytest

from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState
from shopfloor.floor import undo as undoing
from shopfloor.floor.inspection import Verdict, all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut, mark_failed
from shopfloor.floor.models import FloorEvent, Load, LoadState
from shopfloor.floor.pull import pull
from shopfloor.floor.release import recall, release
from shopfloor.floor.undo import undo
from shopfloor.orders.models import LineEvent, OrderLine
from shopfloor.planning.models import Layout, Nest, NestState
from shopfloor.stock.models import Machine, StockItem
from tests.factories.parts import sheet_part
from tests.ledger import assert_all_agrees
from tests.shopfloor.conftest import Shop

KEY = uuid.UUID("7f3b3a4e-56a7-4d5f-9f0e-3f1f4f3c2b1a")


def counts(load):
    """Of all lines together: nested, cut, broken out, good, rework, scrapped, lost, open."""
    steps = ("nested", "cut", "broken_out", "good", "rework", "scrapped", "lost", "open")
    lines = OrderLine.objects.filter(workpieces__load=load).distinct()
    return {step: n for step in steps if (n := sum(getattr(line, f"{step}_count") for line in lines))}


def leave(load, **remnant):
    """As if the load's layout had left this much to keep."""
    Layout.objects.filter(pk=load.layout_id).update(remnant={"width_mm": None, "outline": None, **remnant})
    return Load.objects.get(pk=load.pk)


def stock():
    return list(StockItem.objects.order_by("pk").values_list("is_remnant", "on_hand", "reserved"))


class TestCut:
    def test_the_sheet_is_used_up_and_its_pieces_are_cut(self, load_in_hand, people):
        assert (counts(load_in_hand), stock()) == ({"nested": 6}, [(False, 3, 1)])
        event = mark_cut(load_in_hand, by=people.operator)
        assert (event.actor, event.from_state, event.to_state) == (people.operator, "at_machine", "cut")
        # What the nest left of it is the second row.
        assert (counts(load_in_hand), stock()) == ({"cut": 6}, [(False, 2, 0), (True, 1, 0)])
        assert_all_agrees()

    def test_what_is_left_of_the_sheet_enters_stock_with_heat_number_and_place(self, load_in_hand, people):
        load = leave(load_in_hand, length_mm=600.0, width_mm=500.0)
        mark_cut(load, by=people.operator)
        left = StockItem.objects.get(is_remnant=True)
        assert (left.length_mm, left.width_mm, left.on_hand, left.heat_no, left.place) == (600, 500, 1, "H1", "Rack 2")
        assert (left.material, left.thickness_mm, left.came_from) == (load.stock.material, 2, str(load))
        assert Load.objects.get().remnant == left
        assert_all_agrees()

    def test_with_strips_that_stay_free_and_room_filled_up_it_does_so_too(self, shop, people):
        Machine.objects.filter(pk=shop.machine.pk).update(free_left_mm=60, free_front_mm=30)
        shop.sheets(on_hand=1, heat_no="H7")
        wanted, other = shop.line(2), shop.line(2)
        (load,) = shop.loads(wanted, only={wanted.pk: 2}, fill={other.pk: 2})
        mark_cut(pull(load, by=people.operator), by=people.operator)
        other.refresh_from_db()
        assert (other.cut_count, other.open_count) == (2, 0)
        left = StockItem.objects.get(is_remnant=True)
        # Source: by hand. Four plates of 100 x 60 end at 60 + 4 x 100 + 3 x 5 = 475 and 30 + 60 = 90. Above them, a gap
        # of 5 off, are 405 of the sheet's whole length, more than the 520 beside them of its whole width.
        assert (left.length_mm, left.width_mm, left.heat_no) == (1000, 405, "H7")
        assert_all_agrees()

    @pytest.mark.slow
    def test_so_it_is_with_the_engines(self, people, monkeypatch):
        # Whoever follows a nest has a connection of its own, which sees nothing of a test's transaction.
        monkeypatch.setattr("shopfloor.planning.follow.LOOK_EVERY_S", 3600.0)
        shop = Shop(people)
        Machine.objects.filter(pk=shop.machine.pk).update(free_left_mm=60, free_front_mm=30)
        shop.sheets(on_hand=1, heat_no="H7")
        wanted = shop.line(1, sheet_part(length=400.0, width=400.0))
        other = shop.line(50, sheet_part(length=60.0, width=50.0))
        (load,) = shop.loads(wanted, only={wanted.pk: 1}, fill={other.pk: 50}, budget_s=4)
        other.refresh_from_db()
        assert 0 < other.nested_count < 50
        mark_cut(pull(load, by=people.operator), by=people.operator)
        left = StockItem.objects.get(is_remnant=True)
        # Source: by hand. The plate ends at 60 + 400; beside it, a gap of 5 off, 535 of the whole width are left. Over
        # it, from 30 + 400 and a gap to the margin, are 55, where plates of 50 lie.
        assert (left.length_mm, left.width_mm, left.heat_no) == (535, 500, "H7")
        assert_all_agrees()

    def test_what_is_left_of_a_bar_is_the_next_nests_first_choice(self, shop, people):
        shop.bars(on_hand=2, heat_no="T7")
        load = pull(leave(shop.loads(shop.tube_line(2))[0], length_mm=3_800.0), by=people.operator)
        mark_cut(load, by=people.operator)
        nest = shop.ready_nest(shop.tube_line(1))
        assert nest.layouts.get().stock == StockItem.objects.get(is_remnant=True, length_mm=3_800, heat_no="T7")
        assert_all_agrees()

    def test_a_remnant_that_nobody_wants_to_keep_does_not_enter_stock(self, load_in_hand, people):
        mark_cut(leave(load_in_hand, length_mm=600.0, width_mm=500.0), by=people.operator, keep_remnant=False)
        assert not StockItem.objects.filter(is_remnant=True).exists()

    def test_a_sheet_that_nobody_pulled_is_not_cut(self, load, people):
        with pytest.raises(WrongState, match="it is waiting"):
            mark_cut(load, by=people.operator)
        assert (counts(load), stock()) == ({"nested": 6}, [(False, 3, 1)])


class TestFailed:
    @pytest.mark.parametrize(("spoiled", "left"), [(True, 2), (False, 3)])
    def test_its_pieces_are_wanted_again_at_once(self, load_in_hand, people, spoiled, left):
        mark_failed(load_in_hand, by=people.operator, why="tipped or jammed", stock_spoiled=spoiled)
        assert (counts(load_in_hand), stock()) == ({"lost": 6, "open": 6}, [(False, left, 0)])
        assert set(LineEvent.objects.filter(to_step="lost").values_list("why", flat=True)) == {"tipped or jammed"}
        assert Nest.objects.get().state == NestState.DONE
        assert_all_agrees()

    def test_without_a_reason_it_is_refused(self, load_in_hand, people):
        with pytest.raises(BadInput):
            mark_failed(load_in_hand, by=people.operator, why="  ")
        assert counts(load_in_hand) == {"nested": 6}


class TestBrokenOut:
    def test_lost_pieces_are_wanted_again_at_once(self, cut_load, people):
        break_out(cut_load, by=people.operator, lost={2, 5})
        assert counts(cut_load) == {"broken_out": 4, "lost": 2, "open": 2}
        assert Load.objects.get().state == LoadState.BROKEN_OUT
        assert_all_agrees()

    def test_it_is_done_in_parts_and_the_load_is_broken_out_with_the_last(self, cut_load, people):
        states = []
        for numbers in ({1, 2}, {3, 4, 5}, {6}):
            break_out(cut_load, by=people.operator, numbers=numbers)
            states.append(Load.objects.get().state)
        assert states == [LoadState.CUT, LoadState.CUT, LoadState.BROKEN_OUT]
        with pytest.raises(BadInput, match="nothing is left"):
            break_out(cut_load, by=people.operator)
        assert_all_agrees()

    @pytest.mark.parametrize("numbers", [{0}, {7}, {1, 99}])
    def test_a_piece_that_is_not_on_the_load_moves_none(self, cut_load, people, numbers):
        with pytest.raises(WrongState, match="has no piece"):
            break_out(cut_load, by=people.operator, numbers=numbers)
        assert counts(cut_load) == {"cut": 6}


class TestInspected:
    def test_scrap_is_wanted_again_at_once_and_rework_is_not(self, broken_out_load, people):
        verdicts = all_good(broken_out_load) | {1: Verdict("scrapped", "dross"), 2: Verdict("rework", "dross")}
        inspect(broken_out_load, verdicts, by=people.inspector)
        assert counts(broken_out_load) == {"good": 4, "scrapped": 1, "rework": 1, "open": 1}
        assert_all_agrees()

    @pytest.mark.parametrize(
        "verdict", [Verdict("scrapped"), Verdict("rework", "because"), Verdict("lost", "dross"), Verdict("")]
    )
    def test_a_verdict_that_says_too_little_changes_nothing(self, broken_out_load, people, verdict):
        with pytest.raises(BadInput, match="Piece 1"):
            inspect(broken_out_load, {1: verdict}, by=people.inspector)
        assert counts(broken_out_load) == {"broken_out": 6}

    def test_a_good_piece_stays_good(self, broken_out_load, people):
        inspect(broken_out_load, {1: Verdict("good")}, by=people.inspector)
        with pytest.raises(WrongState, match="Piece 1 is good already"):
            inspect(broken_out_load, {1: Verdict("scrapped", "dross"), 2: Verdict("good")}, by=people.inspector)
        assert counts(broken_out_load) == {"broken_out": 5, "good": 1}


class TestUndo:
    def test_each_mark_is_taken_back_in_turn_as_if_it_had_not_been(self, load_in_hand, people):
        load = leave(load_in_hand, length_mm=600.0, width_mm=500.0)
        mark_cut(load, by=people.operator)
        break_out(load, by=people.operator, lost={3})
        inspect(load, all_good(load) | {1: Verdict("scrapped", "dross")}, by=people.inspector)
        seen = []
        for _ in range(3):
            undo(load, by=people.manager)
            seen.append(counts(load))
            assert_all_agrees()
        assert seen == [{"broken_out": 5, "lost": 1, "open": 1}, {"cut": 6}, {"nested": 6}]
        # The remnant's row stays for the events that name it, with nothing on hand.
        assert stock() == [(False, 3, 1), (True, 0, 0)]
        with pytest.raises(Refused) as refusal:
            undo(load, by=people.manager)
        assert refusal.value.code == "nothing-to-undo"

    def test_scrap_that_is_on_another_nest_already_stays_scrap(self, shop, broken_out_load, people):
        inspect(broken_out_load, all_good(broken_out_load) | {1: Verdict("scrapped", "dross")}, by=people.inspector)
        shop.ask(OrderLine.objects.get(scrapped_count=1))
        with pytest.raises(WrongState, match="cannot be taken back"):
            undo(broken_out_load, by=people.inspector)
        assert_all_agrees()

    def test_a_cut_whose_remnant_is_promised_stays_cut(self, load_in_hand, people):
        load = leave(load_in_hand, length_mm=600.0, width_mm=500.0)
        mark_cut(load, by=people.operator)
        StockItem.objects.filter(is_remnant=True).update(reserved=1)
        with pytest.raises(Refused) as refusal:
            undo(load, by=people.operator)
        assert refusal.value.code == "remnant-used"
        assert (counts(load), stock()) == ({"cut": 6}, [(False, 2, 0), (True, 1, 1)])

    def test_whoever_may_not_make_a_mark_may_not_take_it_back(self, broken_out_load, people):
        inspect(broken_out_load, all_good(broken_out_load), by=people.inspector)
        with pytest.raises(NotYourRole):
            undo(broken_out_load, by=people.operator)
        assert counts(broken_out_load) == {"good": 6}


class TestRelease:
    def test_pieces_that_are_cut_first_are_for_the_order_that_is_due_first(self, shop, people):
        shop.sheets(on_hand=4, length_mm=130, width_mm=90)
        first, second = shop.line(2), shop.line(2, part=OrderLine.objects.get().part)
        loads = shop.loads(first)
        assert [load.workpieces.get().line for load in loads] == [first, first, second, second]

    def test_a_nest_that_was_recalled_is_released_again_with_new_loads(self, shop, load, people):
        nest = Nest.objects.get()
        recall(nest, by=people.office)
        assert_all_agrees()
        (again,) = release(nest, by=people.office)
        assert again.pk != load.pk
        assert (counts(again), stock()) == ({"nested": 6}, [(False, 3, 1)])
        assert_all_agrees()

    def test_a_nest_of_which_a_sheet_was_pulled_is_not_recalled(self, load_in_hand, people):
        with pytest.raises(Refused) as refusal:
            recall(Nest.objects.get(), by=people.office)
        assert refusal.value.code == "load-pulled"
        assert_all_agrees()


def undo_break_out(load, who, key):
    return undo(load, by=who.operator, key=key, mark_id=load.events.get(verb="break-out").pk)


MARKS = {
    "mark-cut": ("load_in_hand", lambda load, who, key: mark_cut(load, by=who.operator, key=key)),
    "mark-failed": ("load_in_hand", lambda load, who, key: mark_failed(load, by=who.operator, why="jammed", key=key)),
    "break-out": ("cut_load", lambda load, who, key: break_out(load, by=who.operator, key=key, lost={1})),
    "inspect": (
        "broken_out_load",
        lambda load, who, key: inspect(
            load, {1: Verdict("scrapped", "dross"), 2: Verdict("good")}, by=who.inspector, key=key
        ),
    ),
    "undo-break-out": ("broken_out_load", undo_break_out),
}


@pytest.mark.django_db(transaction=True)
class TestEightTabletsAtOnce:
    @pytest.mark.parametrize("verb", MARKS)
    def test_one_mark_sent_eight_times_at_once_with_one_key_counts_once(self, request, people, at_once, verb):
        fixture, mark = MARKS[verb]
        load = request.getfixturevalue(fixture)
        events = at_once(8, lambda _: mark(Load.objects.get(pk=load.pk), people, KEY).pk)
        assert len(set(events)) == 1
        assert FloorEvent.objects.filter(verb=verb).count() == 1
        assert_all_agrees()

    def test_an_undo_that_is_served_while_its_twin_looks_is_answered_twice(self, broken_out_load, people, monkeypatch):
        look, twins = undoing.last_mark, []

        def look_late(load):
            if not twins:
                twins.append(None)
                twins[0] = undo_break_out(load, people, KEY)
            return look(load)

        monkeypatch.setattr(undoing, "last_mark", look_late)
        assert undo_break_out(broken_out_load, people, KEY) == twins[0]
        assert FloorEvent.objects.filter(verb="undo-break-out").count() == 1
        assert_all_agrees()

    @pytest.mark.parametrize("verb", MARKS)
    def test_of_eight_that_make_the_same_mark_with_keys_of_their_own_one_counts(self, request, people, at_once, verb):
        fixture, mark = MARKS[verb]
        load = request.getfixturevalue(fixture)

        def make(number):
            try:
                mark(Load.objects.get(pk=load.pk), people, uuid.UUID(int=number))
            except Refused as refusal:
                return str(refusal)
            return None

        answers = at_once(8, make)
        assert answers.count(None) == 1
        assert FloorEvent.objects.filter(verb=verb).count() == 1
        assert_all_agrees()

    def test_tablets_that_break_out_one_piece_each_lose_none(self, cut_load, people, at_once):
        at_once(6, lambda n: break_out(Load.objects.get(pk=cut_load.pk), by=people.operator, numbers={n + 1}))
        assert counts(cut_load) == {"broken_out": 6}
        assert Load.objects.get().state == LoadState.BROKEN_OUT
        assert_all_agrees()

    def test_recalled_at_the_office_while_it_is_pulled_either_happens(self, load, people, at_once):
        def work(number):
            try:
                if number:
                    pull(Load.objects.get(pk=load.pk), by=people.operator)
                else:
                    recall(Nest.objects.get(), by=people.office)
            except Refused as refusal:
                return str(refusal)
            return None

        assert at_once(2, work).count(None) == 1
        assert_all_agrees()
