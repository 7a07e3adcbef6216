import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from nesting import route
from nesting.errors import BadValue, Cancelled, ChildFailed
from nesting.model.findings import Finding, Severity
from shopfloor.base.leases import claim, sweep
from shopfloor.orders.models import OrderLine
from shopfloor.planning import run as run_module
from shopfloor.planning.models import Layout, Nest, NestState
from shopfloor.planning.nest_state import NEST_WORK, cancel, take_best
from shopfloor.planning.run import run
from shopfloor.stock.models import StockItem
from tests import rows_by_hand
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import sheet_part
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


@pytest.fixture
def engine(monkeypatch):
    """Puts a function in the engine's place; it gets the job and what the engine gets beside it."""

    def put(work):
        monkeypatch.setattr(route, "lay_out", work)

    return put


def ended(nest):
    nest.refresh_from_db()
    return nest.state, nest.failure


def open_counts():
    return list(OrderLine.objects.order_by("pk").values_list("quantity", "planned_count", "nested_count"))


class TestWorks:
    def test_a_nest_of_plates_is_ready_with_its_sheets_stock_and_demand(self, shop):
        shop.sheets(on_hand=3, length_mm=230, width_mm=90)
        line = shop.line(3)
        nest = shop.ask(line)
        run(nest.pk)
        assert ended(nest) == (NestState.READY, "")
        assert (nest.wanted_count, nest.placed_count, nest.unplaced) == (3, 3, [])
        assert nest.started_at <= nest.finished_at
        assert nest.noun.placed_count == 3
        # Source: by hand, two sheets of 230 × 90, three plates of 100 × 60.
        assert nest.yield_share == pytest.approx(3 * 6000 / (2 * 20_700))
        first, second = nest.layouts.all()
        assert (first.piece_count, second.piece_count, first.copies) == (2, 1, 1)
        assert first.cut_length_mm == pytest.approx(2 * 320)
        assert (first.pierce_count, first.cut_file_name) == (2, f"nest-{nest.pk}-01.dxf")
        assert first.picture.startswith("<svg")
        assert b"SECTION" in bytes(first.cut_file)
        assert StockItem.objects.get().reserved == 2
        line.refresh_from_db()
        assert (line.nested_count, line.open_count) == (3, 0)
        assert_all_agrees()

    def test_equal_sheets_are_one_layout_with_copies(self, shop):
        shop.sheets(on_hand=5, length_mm=130, width_mm=90)
        nest = shop.ready_nest(shop.line(4))
        layout = nest.layouts.get()
        assert (layout.copies, layout.piece_count) == (4, 1)
        assert StockItem.objects.get().reserved == 4
        assert_all_agrees()

    def test_a_nest_of_tube_is_ready_with_its_bars_and_cut_lists(self, shop):
        shop.bars(on_hand=2)
        nest = shop.ready_nest(shop.tube_line(6, length=1200))
        first, second = nest.layouts.all()
        assert (first.piece_count, second.piece_count) == (4, 2)
        assert first.cut_file_name.endswith(".csv")
        assert "rail" in bytes(first.cut_file).decode()
        assert first.picture.startswith("<svg")
        assert_all_agrees()

    def test_what_is_short_is_taken_from_the_latest_due_and_open_again(self, shop):
        shop.sheets(on_hand=1, length_mm=230, width_mm=90)
        part, today = sheet_part(), timezone.localdate()
        late = shop.line(2, part, order=ConfirmedOrderFactory(due_on=today + timedelta(days=9)))
        soon = shop.line(1, part, order=ConfirmedOrderFactory(due_on=today + timedelta(days=1)))
        nest = shop.ready_nest(late)
        for line, nested, is_open in ((soon, 1, 0), (late, 1, 1)):
            line.refresh_from_db()
            assert (line.nested_count, line.open_count) == (nested, is_open)
        assert nest.unplaced == [{"part": part.name, "count": 1, "reason": "No stock that fits is left."}]
        assert_all_agrees()

    def test_room_left_over_is_filled_and_what_finds_none_stays_open(self, shop):
        # Source: by hand, 3 x 3 plates of 100 x 60 with gaps of 5 and margins of 10 need 330 x 210.
        shop.sheets(on_hand=3, length_mm=330, width_mm=220)
        wanted, other = shop.line(4), shop.line(12)
        nest = shop.ready_nest(wanted, only={wanted.pk: 4}, fill={other.pk: 12})
        assert (nest.wanted_count, nest.placed_count, nest.filled_count, nest.unplaced) == (4, 9, 5, [])
        assert sum(layout.copies for layout in nest.layouts.all()) == 1
        assert {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()} == {
            wanted.pk: (4, 0),
            other.pk: (5, 5),
        }
        for line, nested, still_open in ((wanted, 4, 0), (other, 5, 7)):
            line.refresh_from_db()
            assert (line.planned_count, line.nested_count, line.open_count) == (0, nested, still_open)
        assert_all_agrees()
        # What waits on is nested like anything else.
        assert shop.ready_nest(other).placed_count == 7
        assert_all_agrees()

    def test_what_was_wanted_and_not_laid_is_told_and_fills_nothing(self, shop):
        shop.sheets(on_hand=1, length_mm=330, width_mm=220)
        wanted, other = shop.line(12), shop.line(3)
        nest = shop.ready_nest(wanted, only={wanted.pk: 12}, fill={other.pk: 3})
        assert (nest.placed_count, nest.filled_count) == (9, 0)
        assert [(row["part"], row["count"]) for row in nest.unplaced] == [(wanted.part.name, 3)]
        assert_all_agrees()

    def test_of_one_part_the_wanted_pieces_get_what_was_laid(self, shop):
        """Although the others are due first."""
        shop.sheets(on_hand=1, length_mm=330, width_mm=220)
        part = sheet_part()
        soon = shop.line(6, part, ConfirmedOrderFactory(due_on=timezone.localdate()))
        late = shop.line(7, part)
        nest = shop.ready_nest(late, only={late.pk: 7}, fill={soon.pk: 6})
        assert {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()} == {late.pk: (7, 0), soon.pk: (2, 2)}
        assert_all_agrees()

    def test_each_order_kept_together_has_its_own_parts_in_the_nest(self, shop):
        shop.sheets(on_hand=3)
        part = sheet_part()
        lines = [shop.line(2, part), shop.line(3, part)]
        nest = shop.ready_nest(lines[0], together=True)
        assert {d.part.name for d in nest.noun.job.demands} == {
            f"{part.name}, order {line.order.number}" for line in lines
        }
        assert nest.placed_count == 5
        assert_all_agrees()

    def test_nothing_lies_where_the_machine_keeps_the_sheet_free(self, shop):
        type(shop.machine).objects.filter(pk=shop.machine.pk).update(free_left_mm=60, free_front_mm=25)
        shop.sheets(on_hand=3)
        nest = shop.ready_nest(shop.line(3))
        assert [(p.x, p.y) for p in nest.noun.layouts[0].placements] == [(60, 25), (165, 25), (270, 25)]
        layout = nest.layouts.get()
        assert "Kept free, left: 60" in layout.picture
        # Source: by hand, the plates reach to 370 x 85. The strips are metal like the rest: what is left above the
        # plates and a gap of 5 has the sheet's whole length, and more of it than what is left beside them.
        assert (layout.remnant["length_mm"], layout.remnant["width_mm"]) == (1000, 410)

    def test_a_doubled_message_lays_out_once(self, shop):
        shop.sheets()
        nest = shop.ask(shop.line())
        run(nest.pk)
        run(nest.pk)
        assert Layout.objects.count() == 1
        assert nest.events.filter(verb="save").count() == 1

    @pytest.mark.slow
    def test_eight_workers_with_the_same_message_lay_out_once(self, shop, at_once):
        shop.sheets()
        nest = shop.ask(shop.line(3))
        at_once(8, lambda _: run(nest.pk))
        assert ended(nest) == (NestState.READY, "")
        assert nest.attempt == 1
        assert Layout.objects.count() == 1
        assert_all_agrees()


class TestComesToNothing:
    def fails(self, nest, words):
        run(nest.pk)
        state, failure = ended(nest)
        assert state == NestState.FAILED
        assert words in failure
        assert not Layout.objects.exists()
        assert all(planned == nested == 0 for _, planned, nested in open_counts()), "pieces are open again"
        assert_all_agrees()

    def test_where_no_part_fits_any_stock(self, shop):
        shop.sheets(length_mm=90)
        self.fails(shop.ask(shop.line(2)), "Nothing could be placed. plate")

    def test_where_many_parts_fit_no_stock_and_only_the_first_are_told(self, shop):
        shop.sheets(length_mm=90)
        lines = [shop.line() for _ in range(7)]
        nest = shop.ask(lines[0])
        run(nest.pk)
        assert ended(nest)[1].count("No stock that fits is left.") == 5
        assert ended(nest)[1].endswith(" So it is with 2 more. Enter stock that they fit on, or correct the order.")

    def test_where_all_stock_was_taken_meanwhile(self, shop):
        item = shop.sheets()
        line = shop.line()
        nest = shop.ask(line)
        StockItem.objects.filter(pk=item.pk).update(reserved=1)
        run(nest.pk)
        sentence = f"Nothing could be placed. {line.part.name}: No stock that fits is left."
        assert ended(nest) == (NestState.FAILED, f"{sentence} Enter stock that they fit on, or correct the order.")
        StockItem.objects.filter(pk=item.pk).update(reserved=0)
        assert_all_agrees()

    def test_where_the_stock_was_promised_to_another_nest_while_it_was_laid_out(self, shop, engine):
        item = shop.sheets(on_hand=2, length_mm=130, width_mm=90)
        nest = shop.ask(shop.line(2))

        def slow(job, **settings):
            StockItem.objects.filter(pk=item.pk).update(on_hand=1)
            return rows_by_hand.lay_out(job, **settings)

        engine(slow)
        self.fails(nest, "2 needed, 1 free. The stock changed meanwhile. Nest again.")

    def test_where_the_stock_was_deleted_while_it_was_laid_out(self, shop, engine):
        item = shop.sheets()
        nest = shop.ask(shop.line())

        def slow(job, **settings):
            item.delete()
            return rows_by_hand.lay_out(job, **settings)

        engine(slow)
        self.fails(nest, "no longer in stock. Nest again.")

    def test_where_the_result_does_not_pass_its_check(self, shop, monkeypatch):
        shop.sheets()
        fault = Finding("gap", Severity.REFUSAL, "plate1 and plate2 are 0.3 mm apart.", (1.0, 2.0))
        monkeypatch.setattr(route, "check_nest", lambda nest: (fault,))
        self.fails(
            shop.ask(shop.line()), "did not pass its check and was not kept: plate1 and plate2 are 0.3 mm apart."
        )

    @pytest.mark.parametrize(
        ("fault", "words"),
        [
            (ChildFailed("It crashed (SIGSEGV)."), "The engine came to no result: It crashed (SIGSEGV)."),
            (BadValue("Sheet rules: no turn is allowed."), "Sheet rules: no turn is allowed."),
            (ZeroDivisionError("what only we understand"), "A fault of the server stopped this nest."),
            (Cancelled("Stopped."), "It was stopped before there was any nest to keep."),
        ],
    )
    def test_where_the_engine_fails(self, shop, engine, fault, words):
        shop.sheets()

        def fail(job, **_):
            raise fault

        engine(fail)
        self.fails(shop.ask(shop.line()), words)

    def test_where_the_best_was_asked_for_before_there_was_one(self, shop, engine):
        shop.sheets()
        nest = shop.ask(shop.line())

        def stopped_at_once(job, **_):
            take_best(nest, by=shop.people.office)
            raise Cancelled("Stopped before there was an answer.")

        engine(stopped_at_once)
        self.fails(nest, "It was stopped before there was any nest to keep. Nest again.")

    def test_where_a_file_cannot_be_written(self, shop, monkeypatch):
        shop.sheets()

        def fail(nest, index):
            raise ZeroDivisionError

        monkeypatch.setattr(route, "sheet_cut_file", fail)
        self.fails(shop.ask(shop.line()), "A fault of the server")


class TestMovedOn:
    def test_a_nest_cancelled_while_it_is_laid_out_stays_cancelled(self, shop, engine):
        shop.sheets()
        nest = shop.ask(shop.line(2))

        def slow(job, **settings):
            cancel(Nest.objects.get(pk=nest.pk), by=shop.people.office)
            return rows_by_hand.lay_out(job)

        engine(slow)
        run(nest.pk)
        assert ended(nest) == (NestState.THROWN_AWAY, "")
        assert not Layout.objects.exists()
        assert_all_agrees()

    @pytest.mark.parametrize("ends", [True, False], ids=["with a nest", "with a failure"])
    def test_a_late_twin_changes_nothing(self, shop, engine, ends):
        shop.sheets()
        nest = shop.ask(shop.line(2))

        def too_slow(job, **_):
            # Its lease ran out, the sweep put the nest back, and another worker has it.
            Nest.objects.filter(pk=nest.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
            sweep()
            assert claim(NEST_WORK, nest.pk) is not None
            if not ends:
                raise ChildFailed("It crashed.")
            return rows_by_hand.lay_out(job)

        engine(too_slow)
        run(nest.pk)
        assert ended(nest) == (NestState.LAYING, "")
        assert nest.attempt == 2
        assert not Layout.objects.exists()
        assert open_counts() == [(2, 2, 0)]
        assert_all_agrees()

    @pytest.mark.parametrize("ends", [True, False], ids=["with a nest", "with a failure"])
    def test_a_late_twin_changes_nothing_while_the_nest_waits_for_another_worker(self, shop, engine, ends):
        shop.sheets()
        nest = shop.ask(shop.line(2))

        def too_slow(job, **_):
            Nest.objects.filter(pk=nest.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
            sweep()
            if not ends:
                raise ChildFailed("It crashed.")
            return rows_by_hand.lay_out(job)

        engine(too_slow)
        run(nest.pk)
        assert ended(nest) == (NestState.QUEUED, "")
        engine(rows_by_hand.lay_out)
        run(nest.pk)
        assert ended(nest) == (NestState.READY, "")
        assert_all_agrees()

    def test_a_stop_asked_of_a_worker_that_died_does_not_stop_the_next(self, shop):
        shop.sheets()
        nest = shop.ask(shop.line())
        claim(NEST_WORK, nest.pk)
        take_best(nest, by=shop.people.office)
        Nest.objects.filter(pk=nest.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
        sweep()
        run(nest.pk)
        assert ended(nest) == (NestState.READY, "")


def test_eight_workers_that_lay_out_eight_nests_promise_no_sheet_twice(shop, at_once, monkeypatch):
    """More nests at once than there are sheets: some come to nothing, none takes what another has."""
    monkeypatch.setattr(run_module, "NEST_WORK", replace(NEST_WORK, at_once=None))
    item = shop.sheets(on_hand=5, length_mm=130, width_mm=90)
    nests = [shop.ask(shop.line(2)) for _ in range(8)]
    together = threading.Barrier(8)

    def all_at_once(job, **_):
        together.wait(30)
        return rows_by_hand.lay_out(job)

    monkeypatch.setattr(route, "lay_out", all_at_once)
    at_once(8, lambda number: run(nests[number].pk))
    item.refresh_from_db()
    assert sorted(ended(nest)[0] for nest in nests) == [NestState.FAILED] * 6 + [NestState.READY] * 2
    assert item.reserved == 4
    assert_all_agrees()
