"""The office looks on while a nest is laid out."""

import pytest
from playwright.sync_api import expect

from shopfloor.planning.run import run

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_page_of_a_finished_nest_is_asked_for_once_however_long_it_takes(desk, shop):
    shop.sheets()
    nest = shop.ask(shop.line(4))
    path = f"/nests/{nest.pk}/"
    desk.open(path)
    expect(desk.page.get_by_text("Waits for a worker.")).to_be_visible()

    asked = []

    def answer_late(route):
        asked.append(route.request.url)
        # Longer than the page waits before it looks again how far the nest is.
        desk.page.wait_for_timeout(2500)
        route.continue_()

    desk.page.route(f"**{path}", answer_late)
    run(nest.pk)
    expect(desk.named("Release to Laser")).to_be_visible()
    assert len(asked) == 1
