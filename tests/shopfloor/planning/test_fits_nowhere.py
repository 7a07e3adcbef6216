"""Parts that are too large for all there is, laid out by the real engines."""

import pytest
from django.test import Client
from django.urls import reverse

from shopfloor.base.errors import Refused
from shopfloor.planning import follow
from shopfloor.planning.demand import key_of
from shopfloor.planning.models import NestState
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.run import run
from tests.factories.parts import sheet_part, tube_part
from tests.ledger import assert_all_agrees
from tests.shopfloor.conftest import Shop

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture
def shop(people, monkeypatch):
    # See `quick_engine`.
    monkeypatch.setattr(follow, "LOOK_EVERY_S", 3600.0)
    return Shop(people)


def laid_out(shop, line):
    nest = shop.ask(line, budget_s=2)
    run(nest.pk)
    nest.refresh_from_db()
    line.refresh_from_db()
    return nest


def page_of(nest, people):
    client = Client()
    client.force_login(people.office)
    return client.get(reverse("planning:nest-show", args=[nest.pk])).text


KINDS = {
    "larger than every sheet": (lambda shop: shop.sheets(on_hand=2), lambda: sheet_part(length=1200.0), sheet_part),
    "longer than every bar": (
        lambda shop: shop.bars(on_hand=2),
        lambda: tube_part(length=6010.0),
        lambda: tube_part(length=900.0),
    ),
}


@pytest.mark.parametrize("words", KINDS)
def test_where_nothing_fits_the_planner_reads_which_part_and_why_and_nothing_is_lost(shop, people, words):
    add_stock, large, _ = KINDS[words]
    item = add_stock(shop)
    line = shop.line(3, large())
    nest = laid_out(shop, line)
    assert nest.state == NestState.FAILED
    assert nest.failure.startswith(f"Nothing could be placed. {line.part.name}: {words}")
    assert nest.failure.endswith(". Enter stock that they fit on, or correct the order.")
    assert nest.failure in page_of(nest, people)
    item.refresh_from_db()
    assert (line.open_count, item.reserved) == (3, 0)
    assert_all_agrees()


@pytest.mark.parametrize("words", KINDS)
def test_what_fits_is_laid_out_and_what_does_not_stays_open_with_its_reason(shop, people, words):
    add_stock, large, small = KINDS[words]
    add_stock(shop)
    line, other = shop.line(1, large()), shop.line(4, small())
    nest = laid_out(shop, line)
    other.refresh_from_db()
    assert (nest.state, nest.placed_count, nest.wanted_count) == (NestState.READY, 4, 5)
    assert (line.open_count, other.open_count, other.nested_count) == (1, 0, 4)
    assert words in page_of(nest, people)
    assert_all_agrees()


@pytest.mark.parametrize("kind", ["sheet", "tube"])
def test_a_stock_item_of_which_there_are_none_is_no_stock(shop, people, kind):
    if kind == "sheet":
        shop.sheets(on_hand=0)
        line = shop.line(1)
    else:
        shop.bars(on_hand=0)
        line = shop.tube_line(1)
    with pytest.raises(Refused, match="in stock") as refusal:
        ask_for_nest(key_of(line), by=people.office)
    assert refusal.value.code == "no-stock"
    assert_all_agrees()
