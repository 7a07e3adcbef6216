"""The pages for work by hand and for comparing two nests, as the office asks for them."""

import json
from uuid import uuid4

import pytest
from django.urls import reverse

from shopfloor.floor.release import release
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.models import NestState
from shopfloor.planning.rival import ask_for_rival, choose
from shopfloor.planning.run import run
from tests.factories.parts import part_row, plate
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


def url(name, *args):
    return reverse(f"planning:{name}", args=args)


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


@pytest.fixture
def nest(shop):
    shop.sheets(on_hand=5)
    return shop.ready_nest(shop.line(quantity=3))


def send(client, nest, body, position=1):
    text = body if isinstance(body, str) else json.dumps(body)
    return client.post(url("hand-save", nest.pk, position), text, content_type="application/json")


def body_of(nest, **fields):
    board = board_of(nest, 1)
    return {"key": str(uuid4()), "version": board["version"], "pieces": board["pieces"]} | fields


def test_the_page_holds_outlines_rules_pieces_and_what_waits(office, shop, nest):
    other = shop.line(quantity=2, part=part_row(plate("waits", hole=20.0)), grain="along")
    page = office.get(url("hand-show", nest.pk, 1))
    board = page.context["board"]
    assert (board["gap_mm"], board["margin_mm"], board["copies"], board["version"]) == (5.0, 10.0, 1, 0)
    assert board["sheet"] == [[0, 0], [1000, 0], [1000, 500], [0, 500]]
    key = f"{other.part_id}a"
    assert board["waiting"] == {key: 2}
    assert board["parts"][key]["turns_deg"] == [0.0, 180.0]
    assert len(board["parts"][key]["holes"]) == 1
    assert [(p["x_mm"], p["y_mm"]) for p in board["pieces"]] == [(10, 10), (115, 10), (220, 10)]
    assert "Change by hand" in office.get(url("nest-show", nest.pk)).text


def test_flattened_outlines_hold_the_part_and_keep_out_of_its_holes(shop):
    """As the checker does, so that what looks free in the browser is free."""
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=1, part=part_row(plate("ring", hole=20.0))))
    (part,) = board_of(nest, 1)["parts"].values()
    # Source: by hand, a hole of 20 in the middle of 100 x 60; no corner of its polygon lies outside the circle.
    assert max((x - 50) ** 2 + (y - 30) ** 2 for x, y in part["holes"][0]) <= 10.0**2 + 1e-2


def test_a_part_named_to_break_a_page_breaks_none(office, shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=1, part=part_row(plate("</script><b>x"))))
    page = office.get(url("hand-show", nest.pk, 1)).text
    assert "</script><b>x" not in page


def test_saving_answers_where_to_go_next(office, nest):
    body = body_of(nest)
    body["pieces"][2]["x_mm"] += 100
    answer = send(office, nest, body)
    assert answer.json() == {"next": url("nest-show", nest.pk)}
    assert "Changed by hand and checked" in office.get(url("nest-show", nest.pk)).text


def test_a_fault_answers_its_sentence_and_place(office, nest):
    body = body_of(nest)
    body["pieces"][2]["x_mm"] -= 50
    answer = send(office, nest, body)
    assert answer.status_code == 409
    assert answer.json()["code"] == "layout-faults"
    (fault,) = answer.json()["faults"]
    assert "overlap" in fault["message"]
    assert len(fault["at"]) == 2


@pytest.mark.parametrize("body", ["", "[]", "{}", '{"version": "x"}', '{"version": 0}', '{"version": 0, "pieces": 3}'])
def test_what_is_no_sheet_is_refused(office, nest, body):
    answer = send(office, nest, body)
    assert answer.status_code == 400
    assert answer.json()["code"] == "bad-input"


def test_a_role_is_needed(client, people, nest):
    client.force_login(people.inspector)
    assert client.get(url("hand-show", nest.pk, 1)).status_code == 403
    assert send(client, nest, body_of(nest, pieces=[])).status_code == 403
    assert client.post(url("rival-ask", nest.pk), {"key": uuid4()}).status_code == 403


def test_what_is_not_there_or_not_ready(office, people, nest):
    assert office.get(url("hand-show", 999_999, 1)).status_code == 404
    assert office.get(url("hand-show", nest.pk, 9)).status_code == 400
    assert send(office, nest, body_of(nest, pieces=[]), position=9).status_code == 400
    release(nest, by=people.office)
    assert office.get(url("hand-show", nest.pk, 1)).status_code == 409
    assert "Change by hand" not in office.get(url("nest-show", nest.pk)).text


def test_a_copy_is_chosen_where_the_sheet_is_repeated(office, shop):
    shop.sheets(on_hand=5)
    nest = shop.ready_nest(shop.line(quantity=126))
    assert "Change all 2 copies" in office.get(url("hand-show", nest.pk, 1)).text


def test_two_are_compared_and_one_is_kept(office, nest):
    answer = office.post(url("rival-ask", nest.pk), {"key": uuid4()})
    rival = nest.rivals.get()
    assert answer.url == url("nest-show", rival.pk)
    assert "is being laid out beside it" in office.get(url("nest-show", nest.pk)).text
    run(rival.pk)
    page = office.get(url("nest-compare", rival.pk)).text
    assert f"Keep Nest {nest.pk}" in page
    assert "Largest remnant" in page
    assert f"Compare with Nest {rival.pk}" in office.get(url("nest-show", nest.pk)).text
    assert "To compare" in office.get(url("nest-list")).text
    office.post(url("rival-choose", rival.pk), {"key": uuid4()})
    nest.refresh_from_db()
    rival.refresh_from_db()
    assert (nest.state, rival.state) == (NestState.THROWN_AWAY, NestState.READY)
    assert office.get(url("nest-compare", rival.pk)).url == url("nest-show", rival.pk)
    assert office.get(url("nest-compare", nest.pk)).status_code == 404
    assert_all_agrees()


def test_the_rival_is_dropped(office, people, nest):
    rival = ask_for_rival(nest, by=people.office)
    run(rival.pk)
    key = uuid4()
    for _ in range(2):
        assert office.post(url("rival-drop", rival.pk), {"key": key}).url == url("nest-show", nest.pk)
    assert rival.events.filter(verb="drop").count() == 1
    rival.refresh_from_db()
    assert rival.state == NestState.THROWN_AWAY


def test_what_is_no_rival_or_was_chosen_is_not_dropped(office, people, nest):
    assert office.post(url("rival-drop", nest.pk), {"key": uuid4()}).status_code == 409
    rival = ask_for_rival(nest, by=people.office)
    run(rival.pk)
    choose(rival, by=people.office)
    assert office.post(url("rival-drop", rival.pk), {"key": uuid4()}).status_code == 409
    rival.refresh_from_db()
    assert rival.state == NestState.READY


def test_comparing_takes_as_many_queries_for_many_sheets_as_for_one(
    office, shop, people, django_assert_max_num_queries
):
    shop.sheets(on_hand=9)
    nest = shop.ready_nest(shop.line(quantity=150))
    rival = ask_for_rival(nest, by=people.office)
    run(rival.pk)
    # Session, user, roles, the pair and its sheets.
    with django_assert_max_num_queries(6):
        assert office.get(url("nest-compare", rival.pk)).status_code == 200
