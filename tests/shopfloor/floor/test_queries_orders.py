"""Where an order's pieces are and what was marked on them, as the office asks."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopfloor.floor.inspection import Verdict, inspect
from shopfloor.floor.mark import mark_cut
from shopfloor.floor.models import WorkpieceState
from shopfloor.floor.pull import pull
from shopfloor.floor.queries import lines_on
from shopfloor.floor.queries_orders import as_ranges, pieces_of_order


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ([], ""),
        ([4], "4"),
        ([1, 2], "1–2"),
        ([1, 2, 3, 7], "1–3, 7"),
        ([1, 3, 5], "1, 3, 5"),
        ([2, 3, 9, 10, 11], "2–3, 9–11"),
    ],
)
def test_numbers_are_said_as_ranges(numbers, text):
    assert as_ranges(numbers) == text


def test_every_piece_is_at_one_place(broken_out_load, people):
    inspect(broken_out_load, {1: Verdict(WorkpieceState.GOOD), 2: Verdict("scrapped", "dross")}, by=people.inspector)
    line = lines_on(broken_out_load)[0].line
    [row] = pieces_of_order(line.order)
    assert [(place.step, place.count, place.numbers) for place in row.places] == [
        ("broken_out", 2, "3–4"),
        ("good", 1, "1"),
        ("scrapped", 1, "2"),
    ]
    # The scrapped piece is history; what is wanted for it is open.
    assert row.line.open_count == 1


def test_a_nest_that_is_not_released_holds_its_pieces(shop):
    shop.sheets()
    line = shop.line(3)
    nest = shop.ready_nest(line)
    [row] = pieces_of_order(line.order)
    [place] = row.places
    assert (place.step, place.count, place.load_id) == ("nested", 3, None)
    assert str(nest) in place.where


def test_it_asks_as_often_for_many_loads_as_for_one(shop, people):
    counts = []
    for sheets in (1, 5):
        shop.sheets(on_hand=sheets, length_mm=130, width_mm=90)
        line = shop.line(sheets)
        for load in shop.loads(line):
            pull(load, by=people.operator)
            mark_cut(load, by=people.operator)
        with CaptureQueriesContext(connection) as seen:
            pieces_of_order(line.order)
        counts.append(len(seen))
    assert counts[0] == counts[1]
