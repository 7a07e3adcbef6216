"""Pages for what goes wrong: each says in words what happened and what to do, and none shows a traceback."""

import pytest
from django.test import Client
from django.urls import reverse

pytestmark = pytest.mark.django_db


def test_a_form_without_a_fresh_token_gets_our_own_page(people):
    client = Client(enforce_csrf_checks=True)
    client.force_login(people.office)
    answer = client.post(reverse("orders:customer-list"), {"name": "Greenlip Planters"})
    assert answer.status_code == 403
    assert "Nothing was changed. Go back, reload the page and try again" in answer.text
    assert people.office.get_full_name() in answer.text


def test_an_address_that_leads_nowhere_gets_our_own_page(client, people):
    client.force_login(people.office)
    answer = client.get("/orders/1/nothing-here/")
    assert answer.status_code == 404
    assert "There is nothing at this address." in answer.text
