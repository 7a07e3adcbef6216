"""Two nests of the same demand, compared and chosen by a program."""

import uuid

import pytest

from shopfloor.planning.run import run
from tests.ledger import assert_all_agrees


@pytest.fixture
def ready(shop):
    shop.sheets(on_hand=1)
    return shop.ready_nest(shop.line(4))


def test_a_rival_is_asked_for_once_for_its_key_and_chosen_once(office, ready):
    key, second = str(uuid.uuid4()), str(uuid.uuid4())
    first = office.post(f"/nests/{ready.pk}/rival/", {"key": key, "budget_s": 5})
    again = office.post(f"/nests/{ready.pk}/rival/", {"key": key, "budget_s": 5})
    assert (first.status_code, again.status_code) == (201, 200)
    rival = first.json()
    assert again.json()["id"] == rival["id"]
    assert (rival["state"], rival["rival_of"], rival["wanted_count"], rival["budget_s"]) == ("queued", ready.pk, 4, 5)
    run(rival["id"])
    body = office.get(f"/nests/{rival['id']}/").json()
    assert (body["state"], body["placed_count"], body["demands"]) == ("proposed", 4, [])
    for _ in range(2):
        assert office.post(f"/nests/{rival['id']}/choose/", {"key": second}).json()["state"] == "ready"
    assert office.get(f"/nests/{ready.pk}/").json()["state"] == "thrown_away"
    assert_all_agrees()


def test_a_second_rival_and_a_choice_that_is_none_are_refused(office, refused, ready):
    office.post(f"/nests/{ready.pk}/rival/")
    refused(office.post(f"/nests/{ready.pk}/rival/"), 409, "rival-there")
    refused(office.post(f"/nests/{ready.pk}/choose/"), 409, "wrong-state")
    refused(office.post(f"/nests/{ready.pk}/rival/", {"budget_s": 1}), 400, "bad-input", "budget_s")
    assert_all_agrees()
