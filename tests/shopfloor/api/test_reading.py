import json


def raw(caller, text, content_type="application/json"):
    return caller.client.post("/api/customers/", text, content_type=content_type)


def test_a_body_that_is_no_json_is_refused(office, refused):
    refused(raw(office, b"{"), 400, "bad-body")
    refused(raw(office, b"\xff\xfe"), 400, "bad-body")
    refused(raw(office, b'{"name": NaN}'), 400, "bad-body")
    refused(raw(office, b'{"name": %s}' % (b"9" * 5000)), 400, "bad-body")


def test_a_body_nested_without_end_is_refused(office, refused):
    refused(raw(office, b"[" * 100_000), 400, "bad-body")


def test_a_body_of_another_kind_is_refused(office, refused):
    refused(raw(office, b"<a/>", "text/xml"), 415, "bad-body")


def test_a_body_that_would_fill_the_memory_is_refused(office, refused):
    refused(raw(office, json.dumps({"name": "a" * 3_000_000})), 413, "too-large")


def test_a_body_that_is_no_object_is_refused(office, refused):
    for text in (b"[]", b"3", b"null", b'"a"', b"true"):
        refused(raw(office, text), 400, "bad-input")
