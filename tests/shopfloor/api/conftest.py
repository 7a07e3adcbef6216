"""Calls to the API as a program makes them: with a token, JSON in and out."""

import json
import uuid

import pytest
from drf_spectacular.generators import SchemaGenerator
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient


class Caller:
    """One person's program. Paths are given without `/api`; answers are the test client's."""

    def __init__(self, person=None):
        self.client = APIClient()
        if person is not None:
            token = Token.objects.get_or_create(user=person)[0]
            self.client.credentials(HTTP_AUTHORIZATION=f"Token {token.key}")

    def get(self, path, **params):
        return self.client.get(f"/api{path}", params)

    def rows(self, path, **params):
        """The rows of a list's first page."""
        answer = self.get(path, **params)
        assert answer.status_code == 200, answer.content
        return answer.json()["results"]

    def post(self, path, body=None, **headers):
        return self._send("post", path, {} if body is None else body, headers)

    def patch(self, path, body, **headers):
        return self._send("patch", path, body, headers)

    def delete(self, path, **headers):
        return self.client.delete(f"/api{path}", **headers)

    def _send(self, method, path, body, headers):
        # Not by the client's own renderer, which refuses what a careless program may well send.
        send = getattr(self.client, method)
        return send(f"/api{path}", json.dumps(body), content_type="application/json", **headers)

    def upload(self, path, *files, **fields):
        return self.client.post(f"/api{path}", {"files": list(files), **fields}, format="multipart")


@pytest.fixture
def calls(db):
    """`calls(person)` gives that person's program, `calls()` one without a token."""
    return Caller


@pytest.fixture
def office(calls, people):
    return calls(people.office)


@pytest.fixture
def operator(calls, people):
    return calls(people.operator)


@pytest.fixture
def inspector(calls, people):
    return calls(people.inspector)


@pytest.fixture
def manager(calls, people):
    return calls(people.manager)


@pytest.fixture
def key():
    return str(uuid.uuid4())


@pytest.fixture
def refused():
    """Checks that an answer is a refusal in the one form they all have, and gives its body."""

    def check(answer, status, code, field=""):
        assert answer.status_code == status, answer.content
        assert answer["Content-Type"] == "application/json"
        body = answer.json()
        assert set(body) == {"code", "message", "field"}
        assert (body["code"], body["field"]) == (code, field), body
        assert body["message"].strip()
        return body

    return check


@pytest.fixture(scope="session")
def schema():
    return SchemaGenerator().get_schema(public=True)


@pytest.fixture(scope="session")
def operations(schema):
    """{operation id: (method, path)} of everything the API offers, paths without `/api` and with id 1."""
    return {
        operation["operationId"]: (method, path.removeprefix("/api").replace("{id}", "1"))
        for path, methods in schema["paths"].items()
        for method, operation in methods.items()
    }
