"""The docs page in a real browser, under the content policy that all pages have."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import sync_playwright

from tests.services import chromium


def test_the_page_starts_by_a_script_of_its_own(people):
    client = Client()
    client.force_login(people.office)
    page = client.get("/api/docs/")
    assert page.status_code == 200
    assert "'unsafe-inline'" not in str(settings.SECURE_CSP["script-src"])
    assert "<script>" not in page.content.decode()
    script = client.get("/api/docs/?script=")
    assert script["Content-Type"].startswith("application/javascript")
    assert "SwaggerUIBundle(" in script.content.decode()


def test_who_is_not_signed_in_is_sent_to_sign_in(db):
    answer = Client().get("/api/docs/")
    assert answer.status_code == 302
    assert "/api/docs/" in answer["Location"]


def look_at(site, cookie):
    """What Chromium shows, asks for and complains of at the docs page; one operation is opened.

    In a thread of its own: the loop that drives the browser would keep Django from its database in this one.
    """
    seen = {"asked": [], "complaints": []}
    with sync_playwright() as playwright:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
        browser = playwright.chromium.launch(executable_path=chromium(), args=flags)
        context = browser.new_context()
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
        page = context.new_page()
        page.on("request", lambda request: seen["asked"].append(request.url))
        page.on("console", lambda said: seen["complaints"].append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda fault: seen["complaints"].append(str(fault)))
        page.goto(f"{site}/api/docs/")
        page.get_by_text("Orders, nests and floor marks of the shop").wait_for()
        operation = page.locator("#operations-loads-loads_mark_cut")
        operation.get_by_role("button").first.click()
        operation.get_by_text("sent twice, it counts once").wait_for()
        seen["text"] = page.locator("body").inner_text()
        browser.close()
    return seen


@pytest.mark.browser
@pytest.mark.slow
def test_the_page_shows_the_api_and_asks_nobody_else(live_server, people):
    client = Client()
    client.force_login(people.office)
    with ThreadPoolExecutor(1) as pool:
        seen = pool.submit(look_at, live_server.url, client.cookies["sessionid"].value).result()
    assert seen["complaints"] == []
    assert [url for url in seen["asked"] if not url.startswith((f"{live_server.url}/", "data:"))] == []
    assert len(seen["asked"]) > 4
    for path in ("/api/orders/{id}/confirm/", "/api/queues/{id}/pull-next/", "/api/token/"):
        assert path in seen["text"].replace("\u200b", "")
