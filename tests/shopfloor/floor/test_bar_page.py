"""A bar on the tablet: its pieces by their own pictures, how it is loaded, the centring, counting off one by one."""

import re
import uuid

import pytest
from django.urls import reverse

from shopfloor.floor.bar_page import pieces_on_bar
from shopfloor.floor.centring import check_centring
from shopfloor.floor.mark import mark_cut
from shopfloor.floor.models import FloorEvent, LoadState, WorkpieceState
from shopfloor.floor.pull import pull
from tests.factories.orders import ConfirmedOrderFactory, CustomerFactory
from tests.factories.stock import CuttingRuleFactory, TubeSectionFactory


@pytest.fixture
def bar(shop):
    """Four mitred rails for one order and a plain post for a later one, on a bar that waits at the machine."""
    shop.tube_machine.loading_side = "left"
    shop.tube_machine.save()
    CuttingRuleFactory(material=shop.material, kind="tube", seam_towards="down")
    shop.bars(on_hand=2, section=TubeSectionFactory(standard="EN 10219-2"), heat_no="T 1")
    first = ConfirmedOrderFactory(customer=CustomerFactory(name="Plot 9 Allotments"))
    line = shop.tube_line(4, length=800.0, mitre=45.0, order=first)
    shop.tube_line(1, length=600.0)
    return shop.loads(line)[0]


@pytest.fixture
def in_hand(bar, people):
    return pull(bar, by=people.operator)


def page_of(tablet, load, **asked):
    answer = tablet.get("floor:load-page", load.pk, **asked)
    assert answer.status_code == 200
    return answer.content.decode()


def test_it_says_from_which_side_the_bar_comes_and_where_its_seam_lies(tablet, bar):
    page = page_of(tablet, bar)
    assert re.search(r"Loading side</dt><dd>left", page)
    assert re.search(r"Weld seam</dt><dd>down", page)


def test_what_is_not_set_is_not_said(shop, tablet):
    shop.bars()
    page = page_of(tablet, shop.loads(shop.tube_line(1))[0])
    assert "Loading side" not in page
    assert "Weld seam" not in page


# Source: by hand, 6 m of 40 x 40 x 3 at 3.3 kg/m are under the 23 kg of the NIOSH load constant.
def test_a_long_bar_is_said_to_be_long_and_to_turn(tablet, bar):
    page = page_of(tablet, bar)
    assert "Long bar, 6 m" in page
    assert "The bar turns by itself" in page
    assert "machine&#x27;s manual" in page


def test_each_piece_is_told_by_part_order_place_and_cuts(tablet, bar):
    pieces = pieces_on_bar(bar)
    assert [piece.number for piece in pieces] == [1, 2, 3, 4, 5]
    rail, post = pieces[0], pieces[4]
    assert (rail.customer, rail.picture_names[:2]) == ("Plot 9 Allotments", ("sides", "unrolled"))
    assert rail.words == [
        "800.0 mm long",
        "0 mm from the bar's front",
        "Start: mitre 45°, long point at the top",
        "End: mitre 45°, long point at the top",
    ]
    assert (post.picture_names, len(post.words)) == (("sides",), 2)
    page = page_of(tablet, bar)
    assert page.count("<li data-number=") == 5
    assert "1 of 5" in page


@pytest.mark.parametrize(
    ("asked", "title", "seen"),
    [
        ({}, "1 of 5", 'data-view="slanted"'),
        ({"piece": "3", "view": "sides"}, "3 of 5", 'data-side="back"'),
        ({"piece": "2", "view": "unrolled"}, "2 of 5", 'data-view="unrolled"'),
        ({"piece": "2", "view": "slanted", "turn": "3"}, "2 of 5", "rolled by 270°"),
        ({"piece": "5", "view": "slanted"}, "5 of 5", "tube-picture"),
        ({"piece": "77", "view": "nonsense", "turn": "9"}, "5 of 5", "tube-picture"),
        ({"piece": "x"}, "1 of 5", 'data-view="slanted"'),
    ],
)
def test_a_piece_is_stepped_to_and_turned_without_scripts(tablet, bar, asked, title, seen):
    page = page_of(tablet, bar, **asked)
    [pane] = re.findall(r"<section[^>]*data-piece-pane.*?</section>", page, re.DOTALL)
    assert title in re.search(r"data-piece-title>([^<]*)<", pane)[1]
    assert seen in pane


def test_the_step_after_pulling_is_the_centring_and_then_the_cut(tablet, bar, in_hand):
    page = page_of(tablet, in_hand)
    assert 'form="centring">Centred</button>' in page
    assert reverse("floor:load-mark-cut", args=[bar.pk]) not in page.split('<template id="after-centring">')[0]
    answer = tablet.mark("floor:load-check-centring", bar.pk, height_mm="40,1", width_mm="", twist_mm="6")
    assert (answer.status_code, answer["HX-Redirect"]) == (200, reverse("floor:load-page", args=[bar.pk]))
    page = page_of(tablet, in_hand)
    assert "Centring checked" in page
    assert "Height 40.1" in page
    assert "that EN 10219-2 allows: ask before you cut" in page
    assert "Undo" in page
    assert 'form="centring"' not in page
    assert reverse("floor:load-mark-cut", args=[bar.pk]) in page


def test_a_measure_that_cannot_be_is_told_and_marks_nothing(tablet, in_hand):
    answer = tablet.mark("floor:load-check-centring", in_hand.pk, height_mm="400")
    assert answer.status_code == 400
    assert "is far from 40 mm" in answer.content.decode()
    assert not FloorEvent.objects.filter(verb="check-centring").exists()


def test_centring_sent_twice_counts_once_and_comes_back_by_undo(tablet, in_hand):
    key = uuid.uuid4()
    for _ in range(2):
        assert tablet.mark("floor:load-check-centring", in_hand.pk, key=key).status_code == 200
    assert FloorEvent.objects.filter(verb="check-centring").count() == 1
    assert tablet.mark("floor:load-undo", in_hand.pk).status_code == 200
    assert 'form="centring">Centred</button>' in page_of(tablet, in_hand)


def test_an_inspector_cannot_tick_the_centring(inspectors_tablet, in_hand):
    assert "Centring is still to be checked." in page_of(inspectors_tablet, in_hand)
    assert inspectors_tablet.mark("floor:load-check-centring", in_hand.pk).status_code == 403


def test_what_was_measured_is_kept_with_the_load_and_its_history(tablet, in_hand, people, shop):
    check_centring(in_hand, by=people.operator, measured={"width_mm": "39.8"})
    mark_cut(in_hand, by=people.operator)
    page = page_of(tablet, in_hand)
    assert "Width 39.8" in page
    history = page.split("What happened")[1]
    assert [history.index(words) for words in ("Cut", "Centring checked", "Pulled to the machine")] == sorted(
        history.index(words) for words in ("Cut", "Centring checked", "Pulled to the machine")
    )
    nest = in_hand.layout.nest_id
    loads = tablet.get("floor:nest-loads", nest).content.decode()
    assert "0.2 mm less than drawn" in loads
    assert str(people.operator) in loads
    office = tablet.client.get(reverse("planning:nest-show", args=[nest])).content.decode()
    assert reverse("floor:nest-loads", args=[nest]) in office
    card = tablet.get("floor:job-card", in_hand.pk).content.decode()
    assert "39.8" in card
    # The plain post on this bar is known by its length alone, so the bar cannot be laid flat.
    assert f"nest-{nest}-01.csv" in card


def test_a_bar_cut_without_a_tick_is_said_to_lack_it(tablet, in_hand, people):
    mark_cut(in_hand, by=people.operator)
    assert "Centring was not ticked for this bar." in page_of(tablet, in_hand)
    assert "not ticked" in tablet.get("floor:nest-loads", in_hand.layout.nest_id).content.decode()


def test_a_sheet_says_nothing_of_centring(tablet, cut_load):
    assert "entring" not in page_of(tablet, cut_load)
    assert "entring" not in tablet.get("floor:nest-loads", cut_load.layout.nest_id).content.decode()


def test_the_loads_of_a_nest_take_as_many_queries_for_many_as_for_one(
    shop, tablet, people, django_assert_max_num_queries
):
    shop.bars(on_hand=6)
    loads = shop.loads(shop.tube_line(12, length=2500.0, mitre=45.0))
    assert len(loads) == 6
    for load in loads:
        check_centring(pull(load, by=people.operator), by=people.operator, measured={"height_mm": "40"})
    tablet.get("floor:nest-loads", loads[0].layout.nest_id)
    with django_assert_max_num_queries(8):
        tablet.get("floor:nest-loads", loads[0].layout.nest_id)


def test_pieces_are_counted_off_one_by_one(tablet, in_hand, people, states):
    mark_cut(in_hand, by=people.operator)
    break_out = reverse("floor:load-break-out", args=[in_hand.pk])
    for number in range(1, 6):
        page = tablet.client.get(break_out).content.decode()
        assert f'name="one" value="{number}"' in page
        assert f"{number} of 5" in page
        answer = tablet.mark("floor:load-break-out", in_hand.pk, one=str(number))
        assert answer["HX-Redirect"] == break_out
        assert states(in_hand)[number] == WorkpieceState.BROKEN_OUT
    # Nothing is left to count: the page leads back to the load.
    assert tablet.client.get(break_out).url == reverse("floor:load-page", args=[in_hand.pk])
    in_hand.refresh_from_db()
    assert in_hand.state == LoadState.BROKEN_OUT
    assert FloorEvent.objects.filter(verb="break-out").count() == 5


@pytest.mark.parametrize("one", ["", "x", "99"])
def test_a_piece_that_is_none_is_not_counted_off(tablet, in_hand, people, states, one):
    mark_cut(in_hand, by=people.operator)
    assert tablet.mark("floor:load-break-out", in_hand.pk, one=one).status_code in (400, 409)
    assert set(states(in_hand).values()) == {WorkpieceState.CUT}
