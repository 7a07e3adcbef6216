"""Marks made while the server does not answer: kept on the tablet, sent once each in their order when it answers again.

At the shop's plain http address, where a browser has neither a service worker nor `crypto.randomUUID`.
"""

import re

import pytest
from playwright.sync_api import expect

from shopfloor.floor.mark import break_out, mark_cut, mark_failed
from shopfloor.floor.models import FloorEvent, LoadState, WorkpieceState
from shopfloor.floor.pull import pull

pytestmark = [pytest.mark.browser, pytest.mark.slow]

S = WorkpieceState


@pytest.fixture
def load(shop, tablet, ines):
    """A load of six pieces in the worker's hands, its page open on the tablet."""
    shop.sheets(on_hand=3)
    load = pull(shop.loads(shop.line(6))[0], by=ines)
    tablet.sign_in()
    tablet.open(f"/floor/loads/{load.pk}/")
    assert tablet.page.evaluate("[isSecureContext, typeof crypto.randomUUID]") == [False, "undefined"]
    return load


def verbs():
    return list(FloorEvent.objects.exclude(verb="pull").order_by("pk").values_list("verb", flat=True))


def states_of(load):
    return list(load.workpieces.order_by("number").values_list("state", flat=True))


def test_marks_made_offline_arrive_once_and_in_order(tablet, load):
    page = tablet.page
    page.context.set_offline(True)
    tablet.tap_next()  # Cut
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    expect(page.get_by_role("heading", name="What is out?")).to_be_visible()
    for _ in range(2):
        tablet.tap("One less")
    tablet.tap_piece(1)
    expect(page.locator(".bench .next")).to_have_text("Confirm 3 out, 1 lost")
    tablet.tap_next()
    expect(page.locator("#marks-open")).to_have_text("2 marks wait for the server")
    expect(page.locator(".bench .next")).to_have_text("Confirm 2 out")
    tablet.tap_next()
    expect(page.locator("#marks-open")).to_have_text("3 marks wait for the server")
    # All is counted: the page says what comes next and still shows what was lost.
    expect(page.locator(".bench")).to_have_text("Leave this page open: it goes on by itself when the server answers.")
    expect(page.locator("[data-piece='1']")).to_have_class(re.compile("is-lost"))
    assert verbs() == []

    page.context.set_offline(False)
    expect(page.get_by_role("link", name="Inspect 5")).to_be_visible()
    assert verbs() == ["mark-cut", "break-out", "break-out"]
    assert states_of(load) == [S.LOST, *[S.BROKEN_OUT] * 5]
    expect(page.locator("#marks-open")).to_be_hidden()


def test_what_was_judged_offline_cannot_be_judged_again_before_it_is_sent(tablet, load, ines):
    page = tablet.page
    mark_cut(load, by=ines)
    break_out(load, by=ines)
    tablet.open(f"/floor/loads/{load.pk}/inspect/")
    page.context.set_offline(True)
    tablet.tap_next("All 6 good")
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    expect(page.locator("#words")).to_have_attribute("inert", "")
    tablet.tap_piece(2)
    expect(page.locator("#verdict")).to_be_hidden()

    page.context.set_offline(False)
    expect(page.locator(".undo")).to_contain_text("6 good")
    assert states_of(load) == [S.GOOD] * 6


def test_a_mark_whose_answer_was_lost_counts_once(tablet, load):
    page = tablet.page
    # The server gets the mark and answers it, twice; the answers do not arrive.
    page.evaluate(
        """() => {
            const send = window.fetch;
            window.lost = [];
            window.fetch = async (...request) => {
                const answer = await send(...request);
                if (window.lost.length === 2) return answer;
                window.lost.push(answer.status);
                throw new TypeError("The answer is lost.");
            };
        }"""
    )
    tablet.tap_next()
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    expect(page.locator("#marks-open")).to_be_hidden()
    assert page.evaluate("window.lost") == [200, 200]
    assert verbs() == ["mark-cut"]
    load.stock.refresh_from_db()
    assert load.stock.on_hand == 2


def test_a_mark_that_is_not_accepted_stands_in_a_list_and_stops_no_other(tablet, load, people, shop):
    tablet.expects(409)
    page = tablet.page
    page.context.set_offline(True)
    tablet.tap_next()  # Cut
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    mark_failed(load, by=people.operator, why="power cut")
    page.context.set_offline(False)
    expect(page.locator("#marks-open")).to_have_text("1 mark was not accepted")
    tablet.tap("was not accepted")
    expect(page.get_by_role("dialog")).to_contain_text("Cut: Nest")
    expect(page.get_by_role("dialog")).to_contain_text("it is failed, so this cannot be done")
    tablet.tap("Close")

    # The next mark goes its way: the six pieces that were lost, and one more.
    shop.sheets()
    other = pull(shop.loads(shop.line(1))[0], by=people.operator)
    tablet.open(f"/floor/loads/{other.pk}/")
    tablet.tap_next()
    expect(page.get_by_role("link", name="Break out 7")).to_be_visible()
    expect(page.locator("#marks-open")).to_have_text("1 mark was not accepted")
    load.refresh_from_db()
    assert load.state == LoadState.FAILED

    tablet.tap("was not accepted")
    page.get_by_role("button", name="Take off the list").click(delay=1300)
    expect(page.locator("#marks-open")).to_be_hidden()


def test_a_mark_waits_for_the_one_who_made_it(tablet, load, people):
    page = tablet.page
    page.context.set_offline(True)
    tablet.tap_next()
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    page.context.clear_cookies(name="sessionid")
    page.context.set_offline(False)
    tablet.open()
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    tablet.tap("1 mark waits")
    expect(page.get_by_role("dialog")).to_contain_text("Is sent when Ines Ferro signs in here.")
    tablet.tap("Close")
    assert verbs() == []
    tablet.sign_in()
    tablet.wait_until(verbs, ["mark-cut"])
    expect(page.locator("#marks-open")).to_be_hidden()
    assert FloorEvent.objects.get(verb="mark-cut").actor.username == "ines"


def test_a_refusal_while_the_person_looks_on_is_shown_and_not_kept(tablet, load, people):
    tablet.expects(409)
    mark_failed(load, by=people.operator, why="power cut")
    tablet.tap_next()
    expect(tablet.page.locator("#notice")).to_contain_text("it is failed, so this cannot be done")
    expect(tablet.page.locator("#marks-open")).to_be_hidden()


def test_a_double_tap_marks_once(tablet, load):
    tablet.page.locator(".bench .next").evaluate("(button) => { button.click(); button.click(); button.click(); }")
    expect(tablet.page.get_by_role("link", name="Break out 6")).to_be_visible()
    assert verbs() == ["mark-cut"]
