import pytest
from django.core.cache import cache
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from shopfloor.accounts.pin_sign_in import SESSION_FLAG

PASSWORD = "pears and plywood 7"


@pytest.fixture
def anna(people):
    people.office.set_password(PASSWORD)
    people.office.save()
    cache.clear()
    return people.office


def ask(calls, anna, **body):
    return calls().post("/token/", {"name": anna.username, "password": PASSWORD, **body})


def test_name_and_password_give_a_token_that_signs_in(calls, anna):
    answer = ask(calls, anna)
    assert answer.status_code == 201
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {answer.json()['token']}")
    me = client.get("/api/me/").json()
    assert (me["username"], me["roles"], me["signed_in_by_pin"]) == (anna.username, ["office"], False)
    assert {"enter-order", "nest", "see"} <= set(me["may"])
    assert not {"inspect", "set-up-shop"} & set(me["may"])


def test_asking_again_gives_the_same_token(calls, anna):
    first, second = ask(calls, anna), ask(calls, anna)
    assert second.status_code == 200
    assert first.json() == second.json()


def test_a_replaced_token_stops_working(calls, anna, refused):
    old = ask(calls, anna).json()["token"]
    answer = ask(calls, anna, replace=True)
    assert answer.status_code == 201
    assert answer.json()["token"] != old
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {old}")
    refused(client.get("/api/me/"), 401, "not-signed-in")


def test_a_revoked_token_stops_working(calls, anna, refused):
    caller = calls(anna)
    assert caller.delete("/token/").status_code == 204
    refused(caller.get("/me/"), 401, "not-signed-in")


def test_an_old_token_does_not_stand_in_the_way_of_a_new_one(calls, anna):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION="Token gone")
    body = {"name": anna.username, "password": PASSWORD}
    assert client.post("/api/token/", body, format="json").status_code == 201


def test_a_wrong_password_gives_no_token(calls, anna, refused):
    refused(ask(calls, anna, password="pears and plywood 8"), 401, "sign-in-wrong")
    assert not Token.objects.exists()


def test_a_person_who_left_gets_no_token(calls, anna, refused):
    anna.is_active = False
    anna.save()
    refused(ask(calls, anna), 401, "sign-in-wrong")


def test_five_wrong_passwords_lock_and_the_right_one_is_refused_too(calls, anna, refused):
    codes = [ask(calls, anna, password="wrong").json()["code"] for _ in range(5)]
    assert codes == ["sign-in-wrong"] * 4 + ["too-many-tries"]
    refused(ask(calls, anna), 429, "too-many-tries")


def test_a_right_password_wipes_out_the_wrong_ones_before(calls, anna):
    for _ in range(2):
        for _ in range(4):
            ask(calls, anna, password="wrong")
        assert ask(calls, anna).status_code in (200, 201)


def test_a_password_is_needed(calls, anna, refused):
    refused(calls().post("/token/", {"name": anna.username}), 400, "bad-input", "password")


def test_a_session_opened_by_pin_cannot_revoke_a_token(anna, refused):
    Token.objects.create(user=anna)
    client = APIClient()
    client.force_login(anna)
    session = client.session
    session[SESSION_FLAG] = True
    session.save()
    refused(client.delete("/api/token/"), 403, "not-your-role")
    assert Token.objects.filter(user=anna).exists()
