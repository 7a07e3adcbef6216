import pytest

from shopfloor.planning.queries import nest_with_layouts
from shopfloor.planning.queries_orders import in_words, orders_on_sheets
from shopfloor.planning.rival import ask_for_rival
from shopfloor.planning.run import run
from tests.factories.parts import sheet_part

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("positions", "words"),
    [([], ""), ([2], "2"), ([1, 2], "1–2"), ([1, 3, 4, 5, 7], "1, 3–5, 7"), ([10, 12], "10, 12")],
)
def test_positions_in_short(positions, words):
    assert in_words(positions) == words


def test_each_order_has_the_sheets_it_lies_on(shop):
    # Source: by hand, a sheet of 330 x 220 takes nine plates of 100 x 60.
    shop.sheets(on_hand=3, length_mm=330, width_mm=220)
    part = sheet_part()
    first = shop.line(4, part)
    second = shop.line(8, part)
    third = shop.line(3, order=second.order)
    nest = shop.ready_nest(first)
    shares = orders_on_sheets(nest_with_layouts(nest.pk))
    assert [(share.order, share.where) for share in shares] == [(first.order, "1"), (second.order, "1–2")]
    of_second = {share.demand.line: share.where for share in shares[1].lines}
    # The twelve plates of the one part come first: five of the second order beside the first one's four.
    assert of_second == {second: "1–2", third: "2"}


def test_a_rival_holds_pieces_of_no_order_and_a_waiting_nest_lies_nowhere(shop):
    shop.sheets(on_hand=3)
    nest = shop.ready_nest(shop.line(4))
    rival = ask_for_rival(nest, by=shop.people.office)
    run(rival.pk)
    assert orders_on_sheets(nest_with_layouts(rival.pk)) == []
    waiting = shop.ask(shop.line(4))
    (share,) = orders_on_sheets(nest_with_layouts(waiting.pk))
    assert share.where == ""
