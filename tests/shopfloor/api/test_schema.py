"""The description of the API says what the API does, without a gap."""

from io import StringIO

import pytest
from django.core.management import call_command


def test_the_schema_is_valid_and_leaves_no_warning():
    out = StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    assert out.getvalue().startswith("openapi: 3.")


def test_every_operation_says_how_it_may_be_refused(schema):
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            answers = operation["responses"]
            assert {"401", "403"} <= set(answers), (method, path)
            assert ("404" in answers) == ("{" in path)
            if method != "get":
                assert {"400", "409"} <= set(answers)
            refusal = answers["403"]["content"]["application/json"]["schema"]
            assert refusal == {"$ref": "#/components/schemas/Refusal"}


def test_whatever_changes_something_takes_a_request_key(schema):
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            takes_key = "Idempotency-Key" in [each["name"] for each in operation.get("parameters", [])]
            assert takes_key == (method != "get" and path != "/api/token/"), (method, path)


def test_what_creates_something_answers_201_and_a_repeat_200(schema):
    for path in ("customers", "orders", "materials", "sections", "machines", "cutting-rules", "stock", "nests"):
        assert {"200", "201"} <= set(schema["paths"][f"/api/{path}/"]["post"]["responses"]), path


def test_a_body_carries_the_key_too(schema):
    for name, component in schema["components"]["schemas"].items():
        if name.endswith("Request") and "key" in component["properties"]:
            assert component["properties"]["key"]["format"] == "uuid", name


def test_pictures_and_cut_files_are_described_by_what_they_are(schema):
    def kinds(path):
        return set(schema["paths"][path]["get"]["responses"]["200"]["content"])

    for path in ("drawings/{id}/picture", "parts/{id}/picture", "layouts/{id}/picture", "nests/{id}/best-picture"):
        assert kinds(f"/api/{path}/") == {"image/svg+xml"}
    assert kinds("/api/layouts/{id}/cut-file/") == {"image/vnd.dxf", "text/csv"}
    assert kinds("/api/layouts/{id}/flat-file/") == {"image/vnd.dxf"}
    assert kinds("/api/layouts/{id}/cut-list/") == {"application/pdf"}


@pytest.mark.parametrize("accept", ["application/json", "application/vnd.oai.openapi+json"])
def test_the_schema_is_served_to_whoever_is_signed_in(calls, office, refused, accept):
    answer = office.client.get("/api/schema/", HTTP_ACCEPT=accept)
    assert answer.status_code == 200
    assert answer.json()["openapi"].startswith("3.")
    refused(calls().get("/schema/"), 401, "not-signed-in")
