"""The frame of a gate, four mitred tubes in one model, from its order to inspected pieces on the tablet, with the
engine that a shop has: every piece by its own picture, the centring ticked, the pieces counted off one by one.
"""

import re
from pathlib import Path

import ezdxf
import pytest
from playwright.sync_api import expect

from shopfloor.floor.models import FloorEvent, Load, LoadState, WorkpieceState
from shopfloor.orders.models import OrderLine
from shopfloor.planning.rule import planning_rule
from shopfloor.stock.models import CuttingRule
from tests.browser.entering import card, fill_all, new_order
from tests.browser.test_tablet_journey import small_things
from tests.factories.stock import BarFactory, MaterialFactory, TubeMachineFactory, TubeSectionFactory

pytestmark = [pytest.mark.browser, pytest.mark.slow]

STEEL = "Mild steel S235"


@pytest.fixture
def frame_shop(people):
    """Two bars of square 40 x 40 x 3, a machine that is loaded from the left, seams down, little time to think."""
    steel = MaterialFactory(name=STEEL)
    section = TubeSectionFactory(standard="EN 10219-2")
    BarFactory(material=steel, section=section, on_hand=2, heat_no="T 3301", place="Bar rack")
    TubeMachineFactory(name="Tube laser", loading_side="left")
    CuttingRule.objects.create(material=steel, kind="tube", gap_mm=5, seam_towards="down")
    rule = planning_rule()
    rule.budget_s = 3
    rule.save(update_fields=["budget_s"])


def picture_of(page):
    """The words that the shown picture of the piece says of itself."""
    return page.locator("[data-view-frame] svg desc")


@pytest.fixture
def released(desk, workers, frame_shop, files):
    """Enters one gate, looks at a part of it from all sides, and brings its bar to the machine; gives the load."""
    page = desk.page
    order = new_order(desk, files["gate-frame.step"], customer="Fennel Row Allotments")
    frame = card(desk, "gate-frame.step")
    expect(frame.get_by_text("2 in the file")).to_have_count(2)
    fill_all(desk, STEEL, "")
    expect(page.locator("#ready")).to_contain_text("Everything is there")
    desk.click("Confirm the order")
    expect(page.get_by_text("0 of 4 pieces good")).to_be_visible()

    desk.click("frame-stile")
    expect(page.locator(".facts")).to_contain_text("mitre 45°")
    desk.click("At a slant")
    for turn in (90, 180, 270, 0):
        desk.click("Roll it on by a quarter turn")
        expect(picture_of(page)).to_contain_text(
            f"rolled by {turn}°" if turn else "1\u202f100\u202fmm, seen at a slant"
        )

    desk.open("/waiting/")
    desk.click("Nest all of it")
    desk.named(re.compile("^Release to")).click()
    expect(desk.named("Take back from the machine")).to_be_visible()
    assert order.lines.count() == 2
    return Load.objects.get()


def test_a_frame_of_mitred_tubes_goes_from_its_order_to_inspected_pieces(desk, released, open_tablet):
    tablet, load = open_tablet(), released
    page = tablet.page
    tablet.sign_in()
    tablet.choose("Tube laser")
    tablet.tap("Pull next")

    for words in ("Load this bar", "Loading side", "left", "Weld seam", "down", "T 3301", "Long bar, 6 m"):
        expect(page.locator("#words").get_by_text(words, exact=words in ("left", "down")).first).to_be_visible()
    expect(page.locator(".zoomable [data-piece]")).to_have_count(4)
    with page.expect_download() as waits:
        tablet.tap("Cut file")
    flat = ezdxf.readfile(Path(waits.value.path()))
    assert len(flat.modelspace().query('*[layer=="END_CUTS"]')) in range(5, 9)  # eight ends, of which some are one cut
    with page.expect_download() as waits:
        tablet.tap("Cut list to print")
    assert Path(waits.value.path()).read_bytes().startswith(b"%PDF-")

    # Each piece by its own picture: touched on the bar, stepped to, seen another way, turned.
    title = page.locator("[data-piece-title]")
    names = dict(load.workpieces.values_list("number", "line__part__name"))
    assert sorted(names.values()) == ["frame-rail"] * 2 + ["frame-stile"] * 2
    tablet.tap_piece(3)
    expect(title).to_have_text(f"3 of 4 · {names[3]}")
    tablet.tap("The next piece")
    expect(title).to_have_text(f"4 of 4 · {names[4]}")
    tablet.tap("The next piece")
    expect(title).to_have_text(f"1 of 4 · {names[1]}")
    expect(page.locator(".zoomable [data-piece='1']")).to_have_class(re.compile("is-shown"))
    expect(page.locator("[data-piece-lies]")).to_contain_text("mitre 45°")
    tablet.tap("Laid flat")
    expect(picture_of(page)).to_contain_text("laid flat")
    tablet.tap("Four sides")
    expect(picture_of(page)).to_contain_text("seen from its four sides")
    tablet.tap("At a slant")
    tablet.tap("Roll it back by a quarter turn")
    expect(picture_of(page)).to_contain_text("rolled by 270°")

    # The centring, measured; wrong once and taken back.
    page.get_by_label("Height, mm").fill("40,9")
    tablet.tap_next("Centred")
    expect(page.locator(".centred")).to_contain_text("more than the 0.5 mm that EN 10219-2 allows")
    tablet.tap("Undo")
    page.get_by_label("Height, mm").fill("40.2")
    page.get_by_label("Twist, mm").fill("2")
    tablet.tap_next("Centred")
    expect(page.locator(".centred")).to_contain_text("Height 40.2")
    tablet.tap_next("Cut")

    # Counted off one by one, the first too early.
    tablet.tap_next("Break out 4")
    tablet.tap("Piece 1 is out")
    expect(page.get_by_role("button", name="Piece 2 is out")).to_be_visible()
    tablet.tap("Undo")
    tablet.tap_next("Break out 4")
    for number in (1, 2, 3):
        expect(title).to_have_text(f"{number} of 4 · {names[number]}")
        tablet.tap(f"Piece {number} is out")
        expect(page.locator(f".zoomable [data-piece='{number}']")).to_have_class(re.compile("is-broken_out"))
    tablet.tap("Piece 4 is out")
    tablet.tap_next("Inspect 4")
    tablet.tap_next("All 4 good")
    expect(page.locator(".undo")).to_contain_text("4 good")

    load.refresh_from_db()
    assert load.state == LoadState.INSPECTED
    assert set(load.workpieces.values_list("state", flat=True)) == {WorkpieceState.GOOD}
    verbs = list(FloorEvent.objects.order_by("pk").values_list("verb", flat=True))
    check, out = ["check-centring"], ["break-out"]
    assert verbs == [
        "pull",
        *check,
        "undo-check-centring",
        *check,
        "mark-cut",
        *out,
        "undo-break-out",
        *out * 4,
        "inspect",
    ]
    assert [line.good_count for line in OrderLine.objects.all()] == [2, 2]

    # The office sees what was measured, with the nest and with the load.
    desk.open(f"/nests/{load.layout.nest_id}/")
    loads = desk.page.get_by_role("row", name=re.compile("checked by Ines Ferro"))
    expect(loads).to_contain_text("Height 40.2")
    expect(loads).to_contain_text("Twist 2")
    loads.get_by_role("link").click()
    desk.page.get_by_text("What happened").click()
    expect(desk.page.get_by_text("Taken back: Centring checked")).to_be_visible()


def test_a_bar_is_centred_cut_and_counted_off_without_network(released, open_tablet, ines):
    tablet, load = open_tablet(), released
    page = tablet.page
    tablet.sign_in()
    tablet.choose("Tube laser")
    tablet.tap("Pull next")
    expect(tablet.next).to_have_text("Centred")
    # Every picture of the two parts is fetched ahead.
    page.wait_for_load_state("networkidle")
    page.context.set_offline(True)

    tablet.tap("The next piece")
    tablet.tap("Roll it on by a quarter turn")
    expect(picture_of(page)).to_contain_text("rolled by 90°")
    page.get_by_label("Width, mm").fill("39.9")
    tablet.tap_next("Centred")
    expect(page.locator("#marks-open")).to_have_text("1 mark waits for the server")
    expect(page.get_by_text("Centring is checked. Cut the bar.")).to_be_visible()
    tablet.tap_next("Cut")
    expect(page.get_by_role("heading", name="What is out?")).to_be_visible()
    tablet.tap("Piece 1 is out")
    expect(page.get_by_role("button", name="Piece 2 is out")).to_be_visible()
    expect(tablet.next).to_have_text("Confirm 3 out")
    tablet.tap_next()
    expect(page.locator("#marks-open")).to_have_text("4 marks wait for the server")
    assert not FloorEvent.objects.exclude(verb="pull").exists()

    page.context.set_offline(False)
    expect(page.get_by_role("link", name="Inspect 4")).to_be_visible()
    verbs = list(FloorEvent.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["pull", "check-centring", "mark-cut", "break-out", "break-out"]
    assert FloorEvent.objects.get(verb="check-centring").detail == {"width_mm": 39.9}
    assert set(load.workpieces.values_list("state", flat=True)) == {WorkpieceState.BROKEN_OUT}


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)], ids=["lying", "upright"])
def test_every_target_on_the_pages_of_a_bar_is_big_enough_for_a_glove(shop, open_tablet, size):
    shop.bars()
    shop.loads(shop.tube_line(3, mitre=45.0))
    tablet = open_tablet(size)
    tablet.sign_in()
    tablet.choose("Tube laser")
    tablet.tap("Pull next")
    for words in ("Centred", "Cut", "Break out 3", "Confirm 3 out", "Inspect 3", "All 3 good"):
        expect(tablet.next).to_have_text(words)
        assert small_things(tablet.page) == []
        tablet.tap_next()


@pytest.mark.parametrize("address", ["/floor/?choose=1", "/floor/machines/{machine}/", "/floor/loads/{load}/"])
def test_a_page_of_the_floor_is_no_wider_than_a_phone(shop, open_window, people, address):
    shop.bars()
    [load] = shop.loads(shop.tube_line(3, mitre=45.0))
    window = open_window(people.operator, size=(390, 844))
    window.open(address.format(machine=load.machine_id, load=load.pk))
    window.page.wait_for_load_state()
    assert window.page.evaluate("document.documentElement.scrollWidth") == 390
