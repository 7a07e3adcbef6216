from datetime import date

import pytest

from shopfloor.planning.for_whom import lines_of_pieces
from shopfloor.planning.job import demands_of
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import sheet_part

pytestmark = pytest.mark.django_db


def test_of_pieces_that_are_alike_those_cut_first_go_to_the_lines_due_first(shop):
    shop.sheets()
    part = sheet_part()
    late = shop.line(3, part, ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    soon = shop.line(2, part, ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    nest = shop.ask(late)
    found = lines_of_pieces(nest, demands_of(nest), [(2, [part.name] * 2), (1, [part.name])])
    assert found == [[[soon, soon], [late, late]], [[late]]]


def test_where_orders_are_kept_together_each_has_pieces_of_its_own(shop):
    shop.sheets()
    part = sheet_part()
    first, second = shop.line(1, part), shop.line(1, part)
    nest = shop.ask(first, together=True)
    names = [f"{part.name}, order {line.order.number}" for line in (second, first)]
    assert lines_of_pieces(nest, demands_of(nest), [(1, names)]) == [[[second, first]]]
