"""An order of six drawings and three models from its entry to complete, with the engines that a shop has: the office at
a desk, the worker at a tablet. Two pieces are scrapped on the way and made again.
"""

import re

import pytest
from playwright.sync_api import expect

from shopfloor.orders.models import OrderState
from shopfloor.planning.models import Nest
from shopfloor.planning.rule import planning_rule
from tests.browser.entering import card, fill, fill_all, new_order
from tests.factories.stock import (
    BarFactory,
    MachineFactory,
    MaterialFactory,
    SheetFactory,
    TubeMachineFactory,
    TubeSectionFactory,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

STEEL = "Mild steel S235"
DRAWINGS = {
    "post-flange.dxf": 4,
    "post-cap.dxf": 4,
    "gate-corner-gusset.dxf": 8,
    "hinge-strap.dxf": 4,
    "handle-back.dxf": 2,
    "tie-strap.dxf": 6,
}
MODELS = {"gate-post.step": 2, "gate-rail.step": 4, "gate-stile.step": 4}


@pytest.fixture
def gate_shop(people):
    """Sheets of 2 mm and bars of two sections, a machine for either, and little time to think."""
    steel = MaterialFactory(name=STEEL)
    SheetFactory(material=steel, length_mm=2000, width_mm=1000, on_hand=3, heat_no="H 7702")
    for side in (40, 50):
        section = TubeSectionFactory(height_mm=side, width_mm=side, standard="EN 10219-2")
        BarFactory(material=steel, section=section, on_hand=4)
    MachineFactory(name="Laser, sheet table")
    TubeMachineFactory(name="Laser, tube chuck")
    rule = planning_rule()
    rule.budget_s = 3
    rule.save(update_fields=["budget_s"])


def nest_all(desk):
    """Nests and releases every group that waits."""
    while True:
        desk.open("/waiting/")
        button = desk.page.get_by_role("button", name="Nest all of it").first
        if not button.is_visible():
            return
        button.click()
        desk.named(re.compile("^Release to")).click()
        expect(desk.named("Take back from the machine")).to_be_visible()


def work_off(tablet, machine, scrap=()):
    """Pulls and works every load that waits at the machine; scraps pieces with these numbers. Gives how many loads."""
    tablet.open("/floor/?choose=1")
    tablet.choose(machine)
    count = 0
    while tablet.page.get_by_role("button", name="Pull next").is_visible():
        tablet.tap("Pull next")
        expect(tablet.next).to_have_text(re.compile("^(Cut|Centred)$"))
        if tablet.next.inner_text() == "Centred":
            tablet.tap_next()
        tablet.tap_next("Cut")
        tablet.tap(re.compile("^Break out"))
        tablet.tap_next()
        tablet.tap(re.compile("^Inspect"))
        # The page before shows the same pieces: a tap must not fall on those.
        expect(tablet.next).to_have_text(re.compile("^All .* good$"))
        for number in scrap:
            tablet.tap_piece(number)
            expect(tablet.page.locator("#verdict")).to_be_visible()
            tablet.page.get_by_label("scrap").check(force=True)
            tablet.page.locator("#verdict").get_by_role("button", name="measures off").tap()
        tablet.tap_next(re.compile(f"{len(scrap)} scrap" if scrap else "good"))
        expect(tablet.page.locator(".undo")).to_contain_text("good")
        tablet.page.locator(".rail-back").tap()
        expect(tablet.page.locator(".rail-name")).to_have_text(machine)
        count += 1
    return count


def test_an_order_is_entered_nested_cut_inspected_and_complete(desk, tablet, workers, gate_shop, files):
    page = desk.page
    order = new_order(desk, *(files[name] for name in [*DRAWINGS, *MODELS]), customer="Harrow Lane Gates")
    for name, quantity in {**DRAWINGS, **MODELS}.items():
        fill(card(desk, name), "Quantity", str(quantity))
        expect(card(desk, name).get_by_text("Saved.")).to_be_visible()
    fill_all(desk, STEEL, "2")
    desk.click("Confirm the order")
    expect(page.get_by_text("Its parts now wait to be nested").first).to_be_visible()
    order_page = page.url.removeprefix(desk.url)
    expect(page.get_by_text("0 of 38 pieces good")).to_be_visible()
    expect(page.get_by_text("Waits: 38 to be nested.")).to_be_visible()

    nest_all(desk)
    assert Nest.objects.count() == 3
    desk.open(order_page)
    expect(page.get_by_text("Waits: 38 to be cut.")).to_be_visible()

    tablet.sign_in()
    assert work_off(tablet, "Laser, sheet table", scrap=(1, 2)) == 1
    # The office sees it without touching the page.
    expect(page.get_by_text("26 of 38 pieces good. Waits: 2 to be nested, 10 to be cut.")).to_be_visible()
    expect(page.get_by_text("2 scrapped, 0 lost so far; they are made again.")).to_be_visible()
    assert work_off(tablet, "Laser, tube chuck") >= 2
    expect(page.get_by_text("36 of 38 pieces good. Waits: 2 to be nested.")).to_be_visible()

    nest_all(desk)
    assert work_off(tablet, "Laser, sheet table") == 1
    desk.open(order_page)
    expect(page.get_by_text("38 of 38 pieces good. Every part is done.")).to_be_visible()
    expect(desk.named("Hand over to the customer")).to_be_visible()
    order.refresh_from_db()
    assert order.state == OrderState.COMPLETE
    desk.open("/?view=complete")
    expect(page.get_by_text("Harrow Lane Gates")).to_be_visible()
