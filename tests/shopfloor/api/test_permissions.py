"""Who may reach what: each endpoint is asked by nobody, by each role, and by a session opened by PIN."""

import pytest
from rest_framework.test import APIClient

from shopfloor.accounts.pin_sign_in import SESSION_FLAG

OFFICE, FLOOR = {"office", "manager"}, {"operator", "manager"}
SHARED = {"office", "operator", "manager"}
MANAGER = {"manager"}
EVERYBODY = {"office", "operator", "inspector", "manager"}

WHO = {
    "customers_create": OFFICE,
    "customers_partial_update": OFFICE,
    "orders_create": OFFICE,
    "orders_files": OFFICE,
    "orders_confirm": OFFICE,
    "orders_cancel": OFFICE,
    "orders_hand_over": OFFICE,
    "orders_take_back": OFFICE,
    "order_files_answer": OFFICE,
    "order_files_destroy": OFFICE,
    "order_lines_partial_update": OFFICE,
    "drawings_try_again": OFFICE,
    "materials_create": MANAGER,
    "materials_partial_update": MANAGER,
    "sections_create": MANAGER,
    "sections_partial_update": MANAGER,
    "machines_create": MANAGER,
    "machines_partial_update": MANAGER,
    "cutting_rules_create": MANAGER,
    "cutting_rules_partial_update": MANAGER,
    "cutting_rules_destroy": MANAGER,
    "stock_create": SHARED,
    "stock_partial_update": SHARED,
    "nests_create": SHARED,
    "nests_take_best": SHARED,
    "nests_cancel": SHARED,
    "nests_throw_away": SHARED,
    "nests_release": SHARED,
    "nests_recall": SHARED,
    "nests_rival": SHARED,
    "nests_choose": SHARED,
    "queues_pull_next": FLOOR,
    "loads_pull": FLOOR,
    "loads_put_back": FLOOR,
    "loads_check_centring": FLOOR,
    "loads_mark_cut": FLOOR,
    "loads_mark_failed": FLOOR,
    "loads_break_out": {"operator", "inspector", "manager"},
    "loads_inspect": {"inspector", "manager"},
    # Which role taking a mark back takes depends on the mark, so the verb alone can say.
    "loads_undo": EVERYBODY,
}
"""Who may reach each operation that changes something, as issue and `base.roles` say it in words."""

BY_PIN = {"queues_pull_next", "loads_pull", "loads_put_back", "loads_check_centring"}
BY_PIN |= {"loads_mark_cut", "loads_mark_failed"}
BY_PIN |= {"loads_break_out", "loads_inspect", "loads_undo"}


def _changing(operations):
    return {name for name, (method, _) in operations.items() if method != "get" and not name.startswith("token")}


def _call(client, operations, name):
    method, path = operations[name]
    return getattr(client, method)(f"/api{path}", **({} if method == "get" else {"data": {}, "format": "json"}))


def test_every_operation_that_changes_something_is_in_the_table(operations):
    assert _changing(operations) == set(WHO)


def test_without_signing_in_nothing_is_answered_but_401(operations, refused, db):
    for name in operations.keys() - {"token_create"}:
        answer = _call(APIClient(), operations, name)
        refused(answer, 401, "not-signed-in")
        assert answer["WWW-Authenticate"] == "Token"


def test_a_person_without_a_role_sees_nothing(operations, refused, calls, people):
    client = calls(people.nobody).client
    for name in operations.keys() - {"token_create", "token_destroy"}:
        refused(_call(client, operations, name), 403, "not-your-role")


@pytest.mark.parametrize("role", sorted(EVERYBODY))
def test_each_role_reaches_what_it_may_and_nothing_else(role, operations, refused, calls, people):
    client = calls(getattr(people, role)).client
    for name, roles in WHO.items():
        answer = _call(client, operations, name)
        if role in roles:
            assert answer.status_code in (400, 404, 415), (name, answer.content)
        else:
            refused(answer, 403, "not-your-role")


def test_every_role_may_see_everything(operations, calls, people):
    for role in EVERYBODY:
        client = calls(getattr(people, role)).client
        for name, (method, path) in operations.items():
            if method == "get":
                assert _call(client, operations, name).status_code == (404 if "/1/" in path else 200), name


def test_a_session_opened_by_pin_reaches_the_floor_alone(operations, refused, people):
    client = APIClient()
    client.force_login(people.manager)
    session = client.session
    session[SESSION_FLAG] = True
    session.save()
    assert client.get("/api/me/").json()["signed_in_by_pin"] is True
    for name in WHO:
        answer = _call(client, operations, name)
        if name in BY_PIN:
            assert answer.status_code in (400, 404), (name, answer.content)
        else:
            refused(answer, 403, "not-your-role")


def test_a_session_must_send_the_csrf_token_with_what_it_changes(refused, people):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(people.office)
    assert client.get("/api/customers/").status_code == 200
    refused(client.post("/api/customers/", {"name": "Northgate Stalls"}, format="json"), 403, "not-your-role")


def test_a_token_that_is_not_one_is_refused(refused, db):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION="Token 0123")
    refused(client.get("/api/orders/"), 401, "not-signed-in")
