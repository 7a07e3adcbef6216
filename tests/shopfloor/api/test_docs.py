"""The docs page in a real browser, under the content policy that all pages have."""

import pytest
from django.test import Client

from shopfloor.settings import SECURE_CSP


def test_the_page_starts_by_a_script_of_its_own(people):
    client = Client()
    client.force_login(people.office)
    page = client.get("/api/docs/")
    assert page.status_code == 200
    assert "'unsafe-inline'" not in str(SECURE_CSP["script-src"])
    assert "<script>" not in page.content.decode()
    script = client.get("/api/docs/?script=")
    assert script["Content-Type"].startswith("application/javascript")
    assert "SwaggerUIBundle(" in script.content.decode()


def test_who_is_not_signed_in_is_sent_to_sign_in(db):
    answer = Client().get("/api/docs/")
    assert answer.status_code == 302
    assert "/api/docs/" in answer["Location"]


@pytest.mark.browser
@pytest.mark.slow
def test_the_page_shows_the_api_and_asks_nobody_else(live_server, people, shop_browser):
    client = Client()
    client.force_login(people.office)
    context = shop_browser.new_context()
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    asked, complaints = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{live_server.url}/api/docs/")
    page.get_by_text("/api/orders/{id}/confirm/").wait_for()
    page.get_by_text("/api/loads/{id}/mark-cut/").click()
    page.get_by_text("The sheet or bar is cut.").wait_for()
    context.close()
    assert complaints == []
    assert [url for url in asked if not url.startswith((live_server.url, "data:"))] == []
