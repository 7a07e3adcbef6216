import uuid

from shopfloor.orders.models import Order
from tests.factories.orders import CustomerFactory


def test_the_key_may_come_as_header(office, key):
    body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02"}
    codes = [office.post("/orders/", body, HTTP_IDEMPOTENCY_KEY=key).status_code for _ in range(2)]
    assert codes == [201, 200]
    assert Order.objects.count() == 1


def test_header_and_body_may_say_the_same_key(office, key):
    body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02", "key": key.upper()}
    assert office.post("/orders/", body, HTTP_IDEMPOTENCY_KEY=key).status_code == 201


def test_two_different_keys_are_refused(office, refused, key):
    body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02", "key": str(uuid.uuid4())}
    refused(office.post("/orders/", body, HTTP_IDEMPOTENCY_KEY=key), 400, "bad-input", "key")
    assert not Order.objects.exists()


def test_a_key_that_is_none_is_refused(office, refused):
    body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02"}
    refused(office.post("/orders/", body, HTTP_IDEMPOTENCY_KEY="seven"), 400, "bad-input", "key")
    refused(office.post("/orders/", {**body, "key": 7.5}), 400, "bad-input", "key")


def test_a_key_used_for_something_else_is_refused(office, refused, key):
    order = office.post("/orders/", {"customer": CustomerFactory().pk, "due_on": "2030-05-02", "key": key}).json()
    refused(office.post(f"/orders/{order['id']}/cancel/", {"key": key}), 400, "bad-input", "key")
    assert Order.objects.get().state == "draft"
