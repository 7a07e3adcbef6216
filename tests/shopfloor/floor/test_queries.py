"""Lists and boards: what they count, and that a longer list asks the database no more often."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopfloor.floor.inspection import all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.models import WorkpieceState
from shopfloor.floor.pull import pull
from shopfloor.floor.queries import (
    QUEUE_SHOWN,
    is_done,
    lines_on,
    loads_with,
    machine_board,
    machines,
    numbers_by_state,
)


@pytest.fixture
def queue(shop):
    """So many loads of one piece each for an order of its own."""

    def make(count):
        shop.sheets(on_hand=count, length_mm=130, width_mm=90)
        lines = [shop.line(1) for _ in range(count)]
        return shop.loads(lines[0])

    return make


def queries_for(tablet, name, *args):
    url = reverse(name, args=args)
    tablet.client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert tablet.client.get(url).status_code == 200
    return len(seen)


def test_the_board_counts_loads_and_pieces_by_what_they_wait_for(shop, load, people):
    board = machine_board(shop.machine)
    assert (board.now.load, board.now.piece_count, board.queue_count, dict(board.pieces)) == (load, 6, 1, {})
    assert [share.count for share in board.now.orders] == [4, 2]
    assert board.now.orders[0].customer == "Plot 9 Allotments"
    pull(load, by=people.operator)
    mark_cut(load, by=people.operator)
    break_out(load, by=people.operator, numbers=[1, 2])
    board = machine_board(shop.machine)
    assert board.now is None
    assert dict(board.pieces) == {WorkpieceState.CUT: 4, WorkpieceState.BROKEN_OUT: 2}
    assert dict(board.loads) == {WorkpieceState.CUT: 1, WorkpieceState.BROKEN_OUT: 1}


def test_a_long_queue_is_shown_in_part_and_said_to_be_longer(shop, queue):
    queue(QUEUE_SHOWN + 2)
    board = machine_board(shop.machine)
    assert (len(board.queue), board.not_shown, board.queue_count) == (QUEUE_SHOWN, 2, QUEUE_SHOWN + 2)
    assert len(board.later) == QUEUE_SHOWN - 1


def test_the_queue_runs_earliest_due_first(shop, queue):
    loads = queue(3)
    due = [row.load.due_on for row in machine_board(shop.machine).queue]
    assert due == sorted(load.due_on for load in loads)


def test_the_version_changes_with_what_is_shown_and_not_otherwise(shop, load, people):
    before = machine_board(shop.machine).version
    assert machine_board(shop.machine).version == before
    pull(load, by=people.operator)
    pulled = machine_board(shop.machine).version
    assert pulled != before
    mark_cut(load, by=people.operator)
    assert machine_board(shop.machine).version not in (before, pulled)


def test_machines_say_how_much_waits_at_them(shop, load):
    assert {each.name: each.waiting_count for each in machines()} == {"Laser": 1, "Tube laser": 0}


def test_lines_are_parted_by_state(cut_load, people):
    break_out(cut_load, by=people.operator, numbers=[1, 2], lost=[6])
    first, second = lines_on(cut_load)
    assert (first.to_inspect, first.in_sheet, first.all) == ([1, 2], [3, 4], [1, 2, 3, 4])
    assert second.counts == [(WorkpieceState.CUT, 1), (WorkpieceState.LOST, 1)]
    assert numbers_by_state([first, second]) == {"broken_out": "1 2", "cut": "3 4 5", "lost": "6"}


def test_a_load_that_is_ended_leaves_every_list(shop, broken_out_load, people):
    assert [row.load for row in loads_with(shop.machine, WorkpieceState.BROKEN_OUT)] == [broken_out_load]
    inspect(broken_out_load, all_good(broken_out_load), by=people.inspector)
    assert loads_with(shop.machine, WorkpieceState.BROKEN_OUT) == []


@pytest.mark.parametrize("key", [None, "", "no uuid"])
def test_a_key_that_is_none_has_done_nothing(load, key):
    assert is_done(load, key) is False


def test_the_machine_page_asks_as_often_for_many_loads_as_for_two(shop, queue, tablet):
    queue(2)
    few = queries_for(tablet, "floor:machine-page", shop.machine.pk)
    queue(9)
    assert queries_for(tablet, "floor:machine-page", shop.machine.pk) == few
    assert few <= 12


def test_lists_of_loads_ask_as_often_for_many_as_for_one(shop, queue, tablet, people):
    pages = ("floor:break-out-list", "floor:ended-list")
    loads = queue(6)
    counts = []
    for some in (loads[:1], loads[1:]):
        for load in some:
            pull(load, by=people.operator)
            mark_cut(load, by=people.operator)
        counts.append([queries_for(tablet, page, shop.machine.pk) for page in pages])
    assert counts[0] == counts[1]


def test_a_loads_pages_ask_as_often_for_many_orders_as_for_one(shop, tablet, inspectors_tablet, people):
    counts = []
    for orders in (1, 6):
        shop.sheets()
        lines = [shop.line(2) for _ in range(orders)]
        load = shop.loads(lines[0])[0]
        pull(load, by=people.operator)
        mark_cut(load, by=people.operator)
        seen = [queries_for(tablet, name, load.pk) for name in ("floor:load-page", "floor:load-break-out")]
        break_out(load, by=people.operator)
        seen += [queries_for(inspectors_tablet, "floor:load-inspect", load.pk)]
        seen += [queries_for(tablet, name, load.pk) for name in ("floor:job-card", "floor:labels")]
        counts.append(seen)
    assert counts[0] == counts[1]
