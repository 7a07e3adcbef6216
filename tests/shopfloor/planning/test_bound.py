"""What no nest can do without, as rows and pages tell it."""

from dataclasses import replace

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from nesting import route
from nesting.layout.bar_bound import bar_bound
from nesting.layout.sheet_bound import bound_of_job
from shopfloor.planning.bound import bound_facts
from shopfloor.planning.hand import pieces_from_record, save_by_hand
from shopfloor.planning.hand_change import SheetByHand
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.models import Nest
from shopfloor.planning.queries_compare import pair_to_compare
from shopfloor.planning.rival import ask_for_rival
from shopfloor.planning.run import run
from tests import rows_by_hand
from tests.shop_parts import bar_job, sheet_job, square


def with_bound(nest):
    return replace(nest, bound=route.bound_of(nest.job))


def test_of_one_size_the_last_sheet_is_told_too():
    # Source: by hand: 130 squares of 100 mm fill two sheets of 1000 x 500 mm and 600 mm of a third.
    nest = rows_by_hand.lay_out(sheet_job((square("a", 100.0), 130), gap=0.0, margin=0.0))
    facts = bound_facts(replace(nest, bound=bound_of_job(nest.job)))
    assert (facts["count"], facts["full_count"]) == (3, 2)
    assert facts["last_mm"] == pytest.approx(600.0)
    assert 0.0 <= facts["left_share"] < 1.0


def test_of_bars_only_their_number_is_told():
    nest = rows_by_hand.lay_out(bar_job((2000.0, 9)))
    facts = bound_facts(replace(nest, bound=bar_bound(nest.job, [18_000.0])))
    assert facts == {"count": 3, "full_count": None, "last_mm": None, "left_share": 0.0}


def test_of_several_sizes_no_number_is_told():
    nest = rows_by_hand.lay_out(bar_job((2000.0, 9), stock=((6000.0, None), (7500.0, None))))
    facts = bound_facts(replace(nest, bound=bar_bound(nest.job, [18_000.0])))
    assert (facts["count"], facts["full_count"], facts["last_mm"]) == (None, None, None)
    assert facts["left_share"] == pytest.approx(0.0)


def test_where_nothing_is_known_nothing_is_told():
    assert bound_facts(rows_by_hand.lay_out(sheet_job((square("a", 100.0), 1)))) is None


@pytest.mark.django_db
def test_the_page_of_a_nest_says_what_no_nest_can_do_without(client, people, shop, monkeypatch):
    monkeypatch.setattr(route, "lay_out", lambda *args, **kwargs: with_bound(rows_by_hand.lay_out(*args, **kwargs)))
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=4))
    assert nest.bound["count"] == 1
    client.force_login(people.office)
    page = client.get(reverse("planning:nest-show", args=[nest.pk])).text
    assert "No nest takes less than" in page
    assert "of a sheet" in page
    assert "of the stock used" in page
    Nest.objects.filter(pk=nest.pk).update(bound=None)
    assert "No nest takes less than" not in client.get(reverse("planning:nest-show", args=[nest.pk])).text


@pytest.mark.django_db
def test_two_nests_are_compared_by_what_is_left_to_win(client, people, shop, monkeypatch):
    monkeypatch.setattr(route, "lay_out", lambda *args, **kwargs: with_bound(rows_by_hand.lay_out(*args, **kwargs)))
    shop.sheets(on_hand=4)
    nest = shop.ready_nest(shop.line(quantity=4))
    rival = ask_for_rival(nest, by=people.office)
    run(rival.pk)
    rows = {row.what: row for row in pair_to_compare(rival.pk).rows}
    row = rows["At most left to win"]
    assert (row.nest, row.rival, row.better) == (nest.bound["left_share"], nest.bound["left_share"], "")
    client.force_login(people.office)
    assert "No nest of them takes less than" in client.get(reverse("planning:nest-compare", args=[rival.pk])).text


@pytest.mark.django_db
def test_a_change_by_hand_works_the_bound_out_anew(people, shop):
    shop.sheets(on_hand=4)
    nest = shop.ready_nest(shop.line(quantity=4))
    assert nest.bound is None
    board = board_of(nest, 1)
    pieces = pieces_from_record(board["pieces"])[:2]
    save_by_hand(nest, SheetByHand(nest.version, 1, pieces), by=people.office)
    nest.refresh_from_db()
    assert nest.placed_count == 2
    alone = route.bound_of(nest.noun.job)
    assert nest.bound["last_mm"] == alone.last == nest.noun.bound.last


@pytest.mark.parametrize(
    ("bound", "kind", "words"),
    [
        ({"count": 3, "full_count": 2, "last_mm": 412.0}, "sheet", "2 sheets and 412\u202fmm of another"),
        ({"count": 2, "full_count": 1, "last_mm": 412.0}, "sheet", "1 sheet and 412\u202fmm of another"),
        ({"count": 1, "full_count": 0, "last_mm": 1412.0}, "sheet", "1\u202f412\u202fmm of a sheet"),
        ({"count": 2, "full_count": None, "last_mm": None}, "sheet", "2 sheets"),
        ({"count": 1, "full_count": None, "last_mm": None}, "tube", "1 bar"),
    ],
)
def test_the_words_for_it(bound, kind, words):
    assert render_to_string("planning/_bound.html", {"bound": bound, "kind": kind}).strip() == words
