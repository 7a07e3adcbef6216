"""The office enters an order: files dropped, read, priced in quantities and material, corrected, confirmed."""

import pytest
from playwright.sync_api import expect

from shopfloor.orders.models import OrderLine, OrderState
from shopfloor.stock.models import TubeSection
from tests.browser.entering import card, drop, fill, fill_all, new_order
from tests.drawings import add_rectangle, as_bytes, drawing
from tests.factories.stock import MaterialFactory

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_an_order_is_entered_from_sheet_and_tube_files_and_confirmed(desk, workers, files):
    MaterialFactory(name="Mild steel S235")
    TubeSection.objects.create(
        shape="square", height_mm=40, width_mm=40, wall_mm=3, corner_radius_mm=6, standard="EN 10219-2"
    )
    order = new_order(desk, files["post-flange.dxf"], files["gate-rail.step"])
    page = desk.page

    flange, rail = card(desk, "post-flange.dxf"), card(desk, "gate-rail.step")
    expect(flange.locator("svg.picture").first).to_be_visible()
    expect(rail.get_by_text("square 40 x 40 x 3, 920 mm long", exact=True)).to_be_visible()
    expect(rail.get_by_label("Thickness")).to_have_count(0)
    # Nothing is said yet: the box names each thing that is missing, and the button does nothing.
    expect(page.locator("#ready")).to_contain_text("Still to say")
    expect(page.get_by_role("button", name="Confirm the order")).to_be_disabled()

    fill_all(desk, "Mild steel S235", "6")
    fill(flange, "Quantity", "8")
    expect(flange.get_by_text("Saved.")).to_be_visible()
    fill(rail, "Quantity", "12")
    fill(rail, "Note", "seam inside")
    flange.get_by_label("Grain").select_option("along")
    expect(page.locator("#ready")).to_contain_text("Everything is there")
    desk.click("Confirm the order")

    expect(page.get_by_text("Its parts now wait to be nested").first).to_be_visible()
    order.refresh_from_db()
    assert order.state == OrderState.CONFIRMED
    said = {
        line.part.name: (line.quantity, str(line.thickness_mm), line.grain, line.note) for line in order.lines.all()
    }
    assert said == {"post-flange": (8, "6.00", "along", ""), "gate-rail": (12, "None", "none", "seam inside")}


def test_the_last_quantity_counts_though_confirm_is_clicked_from_within_its_field(desk, workers, files):
    MaterialFactory(name="Mild steel S235")
    order = new_order(desk, files["post-flange.dxf"])
    line = card(desk, "post-flange.dxf")
    fill_all(desk, "Mild steel S235", "6")
    expect(desk.page.locator("#ready")).to_contain_text("Everything is there")
    # The answer to the quantity is slow: the click on confirm comes before it.
    desk.page.route("**/orders/lines/**", lambda route: (desk.page.wait_for_timeout(700), route.continue_()))
    line.get_by_label("Quantity").fill("33")
    desk.click("Confirm the order")
    expect(desk.page.get_by_text("Its parts now wait to be nested").first).to_be_visible()
    assert OrderLine.objects.get(order=order).quantity == 33


@pytest.mark.parametrize("typed", ["0", "-1", "1000000000", "a dozen"])
def test_a_quantity_that_cannot_be_is_told_and_stops_confirming(desk, workers, files, typed):
    desk.expects(400)
    MaterialFactory(name="Mild steel S235")
    order = new_order(desk, files["post-flange.dxf"])
    line = card(desk, "post-flange.dxf")
    fill_all(desk, "Mild steel S235", "6")
    expect(desk.page.locator("#ready")).to_contain_text("Everything is there")
    fill(line, "Quantity", typed)
    expect(line.locator(".field-fault")).to_contain_text("quantity must be")
    desk.click("Confirm the order")
    expect(line.get_by_label("Quantity")).to_be_focused()
    assert line.get_by_label("Quantity").input_value() == typed
    order.refresh_from_db()
    assert order.state == OrderState.DRAFT


def test_faulty_files_are_told_with_their_place_and_the_others_go_on(desk, workers, files, tmp_path):
    MaterialFactory(name="Mild steel S235")
    rubbish = tmp_path / "notes.dxf"
    rubbish.write_bytes(b"\x00\x01\x02 this is no drawing " * 40)
    order = new_order(desk, files["kick-plate.dxf"], rubbish, files["letter-flap.dxf"], files["tie-strap.dxf"])
    page = desk.page

    kick = card(desk, "kick-plate.dxf")
    expect(kick.get_by_text("Must be corrected")).to_be_visible()
    expect(kick.locator("svg .pin")).to_have_count(1)
    expect(card(desk, "notes.dxf").get_by_text("Must be corrected")).to_be_visible()
    expect(card(desk, "tie-strap.dxf").get_by_label("Quantity")).to_be_visible()
    expect(page.locator("#ready")).to_contain_text("kick-plate.dxf cannot be used")
    expect(page.locator("#ready")).to_contain_text("letter-flap.dxf waits for an answer")

    # A drawing without a unit is a question, answered with one click.
    flap = card(desk, "letter-flap.dxf")
    expect(flap.get_by_text("Please answer")).to_be_visible()
    flap.get_by_role("button", name="It is in inches").click()
    expect(card(desk, "letter-flap.dxf").get_by_text("203.2 mm × 101.6 mm")).to_be_visible()

    # What cannot be used is taken out or replaced; here by one that falls on the box.
    for name in ("kick-plate.dxf", "notes.dxf"):
        card(desk, name).get_by_role("button", name="Take").click()
        expect(card(desk, name)).to_have_count(0)
    document, space = drawing()
    add_rectangle(space, 120, 60)
    drop(page, "form.drop", "kick-plate-2.dxf", as_bytes(document))
    expect(card(desk, "kick-plate-2.dxf").get_by_label("Quantity")).to_be_visible()
    fill_all(desk, "Mild steel S235", "3")
    expect(page.locator("#ready")).to_contain_text("Everything is there")
    assert {file.drawing.name for file in order.files.select_related("drawing")} == {
        "letter-flap.dxf",
        "tie-strap.dxf",
        "kick-plate-2.dxf",
    }
