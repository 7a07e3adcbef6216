import json

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import Http404
from rest_framework import exceptions

from shopfloor.api.answers import first_fault, refusal_answer
from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState


@pytest.mark.parametrize(
    ("fault", "status", "code", "field"),
    [
        (Refused("No.", "no-stock"), 409, "no-stock", ""),
        (WrongState("It moved on."), 409, "wrong-state", ""),
        (NotYourRole("Ask a manager."), 403, "not-your-role", ""),
        (BadInput("Too many.", "quantity"), 400, "bad-input", "quantity"),
        (exceptions.ValidationError({"due_on": ["This field is required."]}), 400, "bad-input", "due_on"),
        (exceptions.ParseError("odd"), 400, "bad-body", ""),
        (exceptions.NotAuthenticated(), 401, "not-signed-in", ""),
        (exceptions.MethodNotAllowed("PUT"), 405, "not-offered", ""),
        (exceptions.NotAcceptable(), 406, "not-offered", ""),
        (exceptions.UnsupportedMediaType("text/plain"), 415, "bad-body", ""),
        (exceptions.Throttled(), 429, "throttled", ""),
        (Http404(), 404, "not-found", ""),
        (PermissionDenied(), 403, "not-your-role", ""),
        (SuspiciousOperation("odd"), 400, "bad-request", ""),
    ],
)
def test_each_kind_of_no_has_its_status_and_code(fault, status, code, field):
    answer = refusal_answer(fault, {})
    body = json.loads(answer.content)
    assert (answer.status_code, body["code"], body["field"]) == (status, code, field)
    assert body["message"]


def test_a_fault_of_ours_stays_one():
    assert refusal_answer(KeyError("x"), {}) is None


def test_a_refusal_keeps_its_sentence():
    body = json.loads(refusal_answer(Refused("There is no S235 in stock."), {}).content)
    assert body["message"] == "There is no S235 in stock."


def test_half_a_character_quoted_from_a_request_can_be_sent_back():
    assert json.loads(refusal_answer(BadInput("Not “\ud800”."), {}).content)["message"] == "Not “?”."


@pytest.mark.parametrize(
    ("detail", "field", "text"),
    [
        ({"name": ["Missing."]}, "name", "Missing."),
        ({"name": ["Missing."], "note": ["Too long."]}, "name", "Missing."),
        ({"non_field_errors": ["Not a dictionary."]}, "", "Not a dictionary."),
        ({"verdicts": [{}, {"state": ["Odd."]}]}, "verdicts.1.state", "Odd."),
        ({"numbers": {3: ["Not a number."]}}, "numbers.3", "Not a number."),
        (["Odd."], "", "Odd."),
        ("Odd.", "", "Odd."),
    ],
)
def test_the_first_of_several_faults_is_named_with_its_place(detail, field, text):
    assert first_fault(detail) == (field, text)


def test_an_address_that_is_none_is_answered_as_json(calls, office, refused):
    refused(office.get("/no/such/thing/"), 404, "not-found")
    refused(calls().get("/no/such/thing/"), 404, "not-found")
    refused(office.get("/orders/7/"), 404, "not-found")
    refused(office.get(f"/orders/{10**30}/"), 404, "not-found")


def test_a_method_that_is_not_offered_says_so(office, refused):
    refused(office.delete("/orders/"), 405, "not-offered")
