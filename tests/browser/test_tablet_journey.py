"""A worker with gloves and a tablet: from the PIN to inspected pieces, with one piece lost, one scrapped, one undo."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from shopfloor.floor.models import FloorEvent, LoadState, WorkpieceState
from shopfloor.orders.models import OrderLine

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def states_of(load):
    return dict(load.workpieces.order_by("number").values_list("number", "state"))


def test_a_sheet_goes_from_the_queue_to_inspected_pieces(tablet, shop):
    shop.sheets(on_hand=2, heat_no="H 48213", place="Rack B2")
    line = shop.line(6)
    [load] = shop.loads(line)
    page = tablet.page

    tablet.sign_in()
    tablet.choose("Laser")
    expect(page.get_by_role("heading", name="Next in turn")).to_be_visible()
    tablet.tap("Pull next")

    expect(page.get_by_text("Rack B2")).to_be_visible()
    expect(page.get_by_text("H 48213")).to_be_visible()
    with page.expect_download() as waits:
        tablet.tap("Cut file")
    assert Path(waits.value.path()).read_bytes() == bytes(load.layout.cut_file)

    tablet.tap_next()  # Cut
    expect(page.get_by_role("button", name="Undo")).to_be_visible()
    tablet.tap("Undo")
    expect(page.locator(".bench .next")).to_have_text("Cut")
    tablet.tap_next()
    tablet.tap("Break out 6")

    tablet.tap_piece(5)
    expect(page.locator("[data-piece='5']")).to_have_class(re.compile("is-lost"))
    expect(page.locator(".bench .next")).to_have_text("Confirm 5 out, 1 lost")
    tablet.tap_next()

    tablet.tap("Inspect 5")
    expect(page.locator(".bench .next")).to_have_text("All 5 good")
    tablet.tap_piece(2)
    expect(page.locator("#verdict")).to_be_visible()
    page.get_by_label("scrap").check(force=True)
    tablet.tap("dross or burr")
    expect(page.locator(".bench .next")).to_have_text("Confirm 4 good, 1 scrap")
    tablet.tap_next()

    # The button said so before the mark as well; the row of the part says so only when it is done.
    expect(page.locator(".undo")).to_contain_text("4 good, 1 scrap")
    load.refresh_from_db()
    assert load.state == LoadState.INSPECTED
    good, scrap, lost = WorkpieceState.GOOD, WorkpieceState.SCRAP, WorkpieceState.LOST
    assert states_of(load) == {1: good, 2: scrap, 3: good, 4: good, 5: lost, 6: good}
    verbs = list(FloorEvent.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["pull", "mark-cut", "undo-mark-cut", "mark-cut", "break-out", "inspect"]
    line = OrderLine.objects.get(pk=line.pk)
    # The lost and the scrapped piece are wanted again.
    assert (line.good_count, line.open_count) == (4, 2)


def test_a_bar_is_pulled_by_its_picture_and_its_pieces_are_counted_off(tablet, shop):
    shop.bars(on_hand=1, heat_no="T 3310", place="Bar rack")
    [load] = shop.loads(shop.tube_line(4))
    page = tablet.page

    tablet.sign_in()
    tablet.choose("Tube laser")
    tablet.tap("Pull next")
    for words in ("Load this bar", "Bar rack", "T 3310", "held by the chuck"):
        expect(page.get_by_text(words)).to_be_visible()
    expect(page.locator(".zoomable [data-piece]")).to_have_count(4)

    tablet.tap_next("Centred")
    tablet.tap_next("Cut")
    tablet.tap("Break out 4")
    # One is lost, one stays in the bar for now.
    tablet.tap_piece(3)
    tablet.tap("One less")
    expect(page.locator("[data-says]")).to_have_text("1 lost, 1 left for later")
    tablet.tap_next("Confirm 2 out, 1 lost")
    tablet.tap_next("Break out 1")
    tablet.tap_next("Confirm 1 out")
    tablet.tap_next("Inspect 3")
    tablet.tap_next("All 3 good")

    expect(page.locator(".undo")).to_contain_text("3 good")
    good, lost = WorkpieceState.GOOD, WorkpieceState.LOST
    assert states_of(load) == {1: good, 2: good, 3: lost, 4: good}
    load.refresh_from_db()
    assert load.state == LoadState.INSPECTED


def test_what_cannot_be_taken_back_is_held_and_not_tapped(tablet, shop):
    shop.sheets()
    [load] = shop.loads(shop.line(2))
    page = tablet.page
    tablet.sign_in()
    tablet.choose("Laser")
    tablet.tap("Pull next")
    tablet.tap("Failed")
    page.get_by_label("lost cut").check(force=True)
    button = page.get_by_role("button", name="Mark failed")
    button.click()
    expect(button).to_have_class(re.compile("is-short"))
    load.refresh_from_db()
    assert load.state == LoadState.AT_MACHINE
    button.click(delay=1300)
    expect(page.get_by_text("The cut failed.")).to_be_visible()
    load.refresh_from_db()
    assert load.state == LoadState.FAILED


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)], ids=["lying", "upright"])
def test_every_target_is_big_enough_for_a_glove(tablet, shop, size):
    shop.sheets()
    shop.loads(shop.line(4))
    page = tablet.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    tablet.sign_in()
    tablet.choose("Laser")
    seen = [small_things(page)]
    for words in ("Cut", "Break out 4", "Confirm 4 out", "Inspect 4", "All 4 good"):
        tablet.tap_next()
        expect(page.locator(".bench .next")).to_have_text(words)
        seen.append(small_things(page))
    assert seen == [[]] * 6


def small_things(page):
    """Buttons, links and fields lower than 56 px or, with words in them, smaller in type than 18 px."""
    page.wait_for_load_state()  # the words are there before the styles are
    return page.evaluate(
        """() => [...document.querySelectorAll("main a, main button, main input, header a, header button")]
            .filter((each) => each.checkVisibility() && getComputedStyle(each).opacity !== "0")
            .filter((each) => each.offsetHeight < 56 || parseFloat(getComputedStyle(each).fontSize) < 18)
            .map((each) => `${each.offsetHeight} ${getComputedStyle(each).fontSize} ${each.outerHTML.slice(0, 120)}`)"""
    )
