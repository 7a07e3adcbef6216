"""Pieces of a ready nest moved by hand in Chromium, with a mouse and with fingers; two nests compared and one kept.

Plates are 100 x 60, the sheet 1000 x 500, gap 5 and margin 10; rows by hand lay them from the lower left.
"""

import random

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from nesting import route
from nesting.geometry.contour import Contour
from nesting.model.nest import Placement, SheetLayout, SheetNest
from nesting.model.part import SheetPart
from shopfloor.planning.hand import pieces_from_record, save_by_hand
from shopfloor.planning.hand_change import SheetByHand
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.models import Nest
from shopfloor.planning.rival import ask_for_rival
from shopfloor.planning.run import run
from shopfloor.stock.models import Machine
from tests.browser.conftest import TABLET
from tests.factories.parts import part_row
from tests.factories.stock import CuttingRuleFactory
from tests.ledger import assert_all_agrees

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


class Hand:
    """A window on one sheet. Places are in millimetres on the sheet, y upwards."""

    def __init__(self, window, nest, position=1):
        self.window, self.page, self.nest = window, window.page, nest
        window.open(reverse("planning:hand-show", args=(nest.pk, position)))
        expect(self.faults).to_have_text("No fault seen")

    @property
    def faults(self):
        return self.page.locator("[data-faults-head]")

    @property
    def save(self):
        return self.window.named("Check, save")

    def piece(self, number):
        return self.page.locator(f"[data-id='{number}']")

    def on_screen(self, x, y):
        """Where a place of the sheet is in the window."""
        return self.page.evaluate(
            """([x, y]) => {
                const m = document.querySelector("[data-sheet] g").getScreenCTM();
                return [m.a * x + m.e, m.d * y + m.f];
            }""",
            [x, y],
        )

    def lies_at(self, number):
        """The left and bottom of a piece on the sheet, to a hundredth."""
        return self.page.evaluate(
            """(id) => {
                const words = document.querySelector(`[data-id="${id}"]`).getAttribute("transform");
                const numbers = words.match(/translate\\(([^ ]+) ([^)]+)\\)/).slice(1);
                return numbers.map((each) => Math.round(each * 100) / 100);
            }""",
            str(number),
        )

    def drag(self, start, end, *, drop=True):
        """With the mouse, in steps as a hand makes them."""
        mouse = self.page.mouse
        mouse.move(*self.on_screen(*start))
        mouse.down()
        mouse.move(*self.on_screen(*end), steps=8)
        if drop:
            mouse.up()

    def finger(self, start, end):
        """With one finger."""
        (x, y), (to_x, to_y) = self.on_screen(*start), self.on_screen(*end)
        touch = self.page.context.new_cdp_session(self.page)

        def send(kind, *points):
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": a, "y": b} for a, b in points]})

        send("touchStart", (x, y))
        for k in range(1, 9):
            send("touchMove", (x + (to_x - x) * k / 8, y + (to_y - y) * k / 8))
        send("touchEnd")

    def saved(self):
        """Saves and waits for the nest's page."""
        self.save.click()
        expect(self.page.get_by_text("is saved; picture and cut file are made anew.")).to_be_visible()
        self.nest.refresh_from_db()
        assert route.check_nest(self.nest.noun) == ()
        assert_all_agrees()
        return [(p.x, p.y, p.turn) for p in self.nest.noun.layouts[0].placements]


@pytest.fixture
def line(shop):
    shop.sheets(on_hand=9)
    return shop.line(quantity=3)


@pytest.fixture
def nest(shop, line):
    return shop.ready_nest(line)


@pytest.fixture
def open_hand(open_window, people):
    def open_one(nest, position=1, **more):
        return Hand(open_window(people.office, size=TABLET, **more), nest, position)

    return open_one


def test_with_a_mouse_a_piece_snaps_to_the_gap_of_its_neighbour(open_hand, nest):
    hand = open_hand(nest)
    # The third plate lies from 220; it is let go a few millimetres off the place above the first one.
    hand.drag((270, 40), (63, 107))
    # Source: by hand, the margin of 10, and on top of the first plate's 10 + 60 the gap of 5.
    assert hand.lies_at(3) == [10, 75]
    expect(hand.faults).to_have_text("No fault seen")
    assert hand.saved()[2] == (10.0, 75.0, 0.0)


def test_faults_are_shown_while_a_piece_is_dragged_and_cannot_be_saved(open_hand, nest):
    hand = open_hand(nest)
    hand.drag((270, 40), (200, 60), drop=False)
    expect(hand.faults).to_have_text("1 fault")
    expect(hand.page.locator("[data-faults]")).to_contain_text("overlap")
    for number in (2, 3):
        expect(hand.piece(number)).to_have_class("piece k1 is-bad" if number == 2 else "piece k1 picked is-bad")
    hand.page.mouse.up()
    expect(hand.save).to_be_disabled()
    hand.window.click("Undo")
    expect(hand.faults).to_have_text("No fault seen")
    assert hand.lies_at(3) == [220, 10]
    hand.window.click("Redo")
    expect(hand.faults).to_have_text("1 fault")
    hand.drag((200, 60), (900, 497))
    expect(hand.page.locator("[data-faults]")).to_contain_text("leaves the sheet")


def test_strips_that_stay_free_are_drawn_and_kept(open_hand, shop, line):
    Machine.objects.filter(pk=shop.machine.pk).update(free_left_mm=60, free_back_mm=40)
    hand = open_hand(shop.ready_nest(line))
    expect(hand.page.locator(".kept-free")).to_have_count(2)
    hand.drag((320, 40), (80, 200), drop=False)
    expect(hand.faults).to_have_text("1 fault")
    expect(hand.page.locator("[data-faults]")).to_contain_text("reaches into the 60 mm kept free at the left edge")
    hand.page.mouse.up()
    hand.drag((80, 200), (300, 300))
    expect(hand.faults).to_have_text("No fault seen")
    hand.window.click("Push left")
    hand.window.click("Push up")
    # Source: by hand, the strip of 60 at the left, and 500 less the strip of 40 and the plate's 60.
    assert hand.lies_at(3) == [60, 400]
    assert hand.saved()[2] == (pytest.approx(60.0, abs=0.01), pytest.approx(400.0, abs=0.01), 0.0)


def test_more_different_parts_than_a_sheet_may_hold_are_told(open_hand, shop, line):
    CuttingRuleFactory(material=shop.material, thickness_mm=None, most_kinds=1)
    nest = shop.ready_nest(line)
    other = shop.line(quantity=1)
    hand = open_hand(nest)
    hand.window.click(f"Add {other.part.name}")
    expect(hand.page.locator("[data-faults]")).to_contain_text("2 different parts lie on the sheet; it may hold 1")
    expect(hand.save).to_be_disabled()


def test_with_a_finger_a_piece_is_dragged_turned_and_pushed(open_hand, nest):
    hand = open_hand(nest, has_touch=True)
    hand.finger((270, 40), (600, 300))
    hand.window.named("Turn left").tap()
    hand.window.named("Push left").tap()
    hand.window.named("Push down").tap()
    # Source: by hand, a plate of 60 x 100 stands on its turned corner: left edge at the margin of 10, and down to the
    # first plate's top of 70 and the gap of 5.
    x, y = hand.lies_at(3)
    assert (x, y) == (70, 75)
    assert hand.saved()[2] == (pytest.approx(70.0, abs=0.01), pytest.approx(75.0, abs=0.01), 90.0)


def test_what_is_taken_off_stands_aside_and_is_added_again(open_hand, shop, nest, line):
    other = shop.line(quantity=4)
    hand = open_hand(nest)
    hand.drag((270, 40), (270, 40))
    hand.window.click("Take off")
    waiting = hand.page.locator("[data-waiting] li")
    expect(waiting).to_have_count(2)
    hand.window.click(f"Add {other.part.name}")
    expect(hand.piece(4)).to_have_class("piece k2 picked")
    expect(hand.faults).to_have_text("No fault seen")
    assert len(hand.saved()) == 3
    line.refresh_from_db()
    other.refresh_from_db()
    assert (line.open_count, other.open_count) == (1, 3)


def test_rows_and_columns_of_a_piece_take_what_waits(open_hand, shop, nest):
    other = shop.line(quantity=5)
    hand = open_hand(nest)
    hand.window.click(f"Add {other.part.name}")
    hand.drag((60, 105), (500, 200))
    hand.page.get_by_text("Rows and columns of the picked piece").click()
    for name, value in (("Rows", "2"), ("Columns", "3"), ("Gap across", "12")):
        hand.page.get_by_role("spinbutton", name=name).fill(value)
    hand.window.click("Set out")
    expect(hand.page.locator("[data-said]")).to_have_text("4 set out; no more of this part waits.")
    left, bottom = hand.lies_at(4)
    # Source: by hand, a plate of 100 x 60 and gaps of 12 across and 5 up.
    assert hand.lies_at(5) == [left + 112, bottom]
    assert hand.lies_at(7) == [left, bottom + 65]
    assert len(hand.saved()) == 8


def test_a_held_piece_stays_where_it_is(open_hand, nest):
    hand = open_hand(nest)
    hand.drag((270, 40), (270, 40))
    hand.window.click("Hold in place")
    hand.drag((270, 40), (600, 300))
    assert hand.lies_at(3) == [220, 10]
    expect(hand.window.named("Take off")).to_be_disabled()
    hand.window.click("Let go")
    hand.drag((270, 40), (600, 300))
    assert hand.lies_at(3) != [220, 10]


def test_what_is_held_stays_while_the_rest_is_laid_out_again(open_hand, nest):
    hand = open_hand(nest)
    hand.drag((60, 40), (60, 40))
    hand.window.click("Hold in place")
    expect(hand.page.get_by_role("heading", name="1 held in place")).to_be_visible()
    hand.drag((270, 40), (600, 300))
    expect(hand.window.named("Lay out the rest again")).to_be_disabled()
    hand.window.click("Undo")
    hand.window.click("Lay out the rest again")
    rival = nest.rivals.get()
    expect(hand.page.get_by_role("heading", name=f"Nest {rival.pk}")).to_be_visible()
    (sheet,) = rival.held["sheets"]
    assert [(p["x_mm"], p["y_mm"]) for p in sheet["placements"]] == [(10, 10)]
    assert_all_agrees()


def test_keys_pick_move_turn_and_take_off(open_hand, nest):
    hand = open_hand(nest)
    hand.page.locator("[data-sheet]").focus()
    hand.page.keyboard.press("PageUp")
    expect(hand.piece(3)).to_have_class("piece k1 picked")
    hand.page.keyboard.press("Shift+ArrowUp")
    hand.page.keyboard.press("ArrowRight")
    assert hand.lies_at(3) == [221, 20]
    hand.page.keyboard.press("Control+z")
    assert hand.lies_at(3) == [220, 20]
    hand.page.keyboard.press("Delete")
    expect(hand.piece(3)).to_have_count(0)


def test_one_copy_of_a_repeated_sheet_is_changed_alone(open_hand, shop):
    shop.sheets(on_hand=5)
    nest = shop.ready_nest(shop.line(quantity=126))
    hand = open_hand(nest)
    hand.page.get_by_label("Change one copy").check()
    hand.drag((60, 40), (60, 40))
    hand.window.click("Take off")
    hand.saved()
    rows = nest.layouts.order_by("position").values_list("copies", "piece_count")
    assert list(rows) == [(1, 63), (1, 62)]


def test_whoever_saves_second_reads_that_the_nest_was_changed(open_hand, people, nest):
    hand = open_hand(nest)
    hand.window.expects(409)
    pieces = pieces_from_record(board_of(nest, 1)["pieces"])
    save_by_hand(nest, SheetByHand(0, 1, pieces[:2]), by=people.manager)
    hand.drag((270, 40), (600, 300))
    hand.save.click()
    expect(hand.page.locator("[data-said]")).to_contain_text("changed by somebody else")
    nest.refresh_from_db()
    assert (nest.version, nest.placed_count) == (1, 2)


def test_a_sheet_of_hundreds_of_pieces_is_worked_on(open_hand, shop):
    shop.sheets(on_hand=1, length_mm=2500, width_mm=1250)
    nest = shop.ready_nest(shop.line(quantity=500, part=small_ring()))
    hand = open_hand(nest)
    assert hand.page.locator("[data-id]").count() == 500
    x, y = hand.lies_at(500)
    hand.drag((x + 10, y + 10), (2300, 1100))
    expect(hand.faults).to_have_text("No fault seen")
    assert len(hand.saved()) == 500


def small_ring():
    return part_row(SheetPart("ring", Contour.circle(20, 20, 20), (Contour.circle(20, 20, 5),)))


def test_two_nests_are_compared_and_the_other_one_is_kept(open_window, people, shop, nest, line):
    window = open_window(people.office, size=TABLET)
    window.open(reverse("planning:nest-show", args=(nest.pk,)))
    window.click("Lay out another to compare")
    rival = nest.rivals.get()
    expect(window.page.get_by_role("heading", name=f"Nest {rival.pk}")).to_be_visible()
    run(rival.pk)
    window.click(f"Compare with Nest {nest.pk}")
    expect(window.page.locator(".compare tbody tr")).to_have_count(7)
    window.click(f"Keep Nest {rival.pk}")
    expect(window.page.get_by_text("is kept; the other one is thrown away.")).to_be_visible()
    states = {each.pk: each.state for each in Nest.objects.all()}
    assert states == {nest.pk: "thrown_away", rival.pk: "ready"}
    assert_all_agrees()


def test_the_first_nest_is_kept(open_window, people, nest):
    rival = ask_for_rival(nest, by=people.office)
    run(rival.pk)
    window = open_window(people.office, size=TABLET)
    window.open(reverse("planning:nest-compare", args=(rival.pk,)))
    window.click(f"Keep Nest {nest.pk}")
    expect(window.page.get_by_role("heading", name=f"Nest {nest.pk}")).to_be_visible()
    rival.refresh_from_db()
    assert rival.state == "thrown_away"
    assert_all_agrees()


def test_without_the_server_nothing_is_lost(open_hand, nest):
    hand = open_hand(nest)
    hand.drag((270, 40), (600, 300))
    hand.page.context.set_offline(True)
    hand.save.click()
    expect(hand.page.locator("[data-said]")).to_contain_text("does not answer")
    hand.page.context.set_offline(False)
    assert hand.saved()[2][0] == pytest.approx(550, abs=2)


ANGLE = SheetPart("angle", Contour(((0, 0, 0), (160, 0, 0), (160, 40, 0), (40, 40, 0), (40, 120, 0), (0, 120, 0))))
FRAME = SheetPart("frame", Contour.circle(0, 0, 110), (Contour.circle(0, 0, 85),))
DISC = SheetPart("disc", Contour.circle(0, 0, 30))


def test_the_browser_and_the_checker_say_the_same_of_sheets_laid_at_random(open_hand, shop):
    """Where they could differ, within a tenth of a millimetre, no place of these two hundred lies."""
    shop.sheets(on_hand=1)
    lines = [shop.line(quantity=2, part=part_row(part)) for part in (ANGLE, FRAME, DISC)]
    nest = shop.ready_nest(lines[0])
    hand = open_hand(nest)
    noun = nest.noun
    keys = {line.part.name: str(line.part_id) for line in lines}
    rows = []
    chance = random.Random(7)
    for _ in range(200):
        names = chance.choices(list(keys), k=chance.choice((2, 3)))
        turns = (0.0, 90.0, 180.0, 270.0)
        rows.append(
            [Placement(n, chance.uniform(60, 800), chance.uniform(60, 400), chance.choice(turns)) for n in names]
        )
    seen = hand.page.evaluate(
        """async (sheets) => {
            const { Rules } = await import("/static/js/hand_faults.js");
            const rules = new Rules(JSON.parse(document.getElementById("board").textContent));
            return sheets.map((pieces) => rules.faults(pieces).words.length);
        }""",
        [
            [{"piece": keys[p.part], "x_mm": p.x, "y_mm": p.y, "turn_deg": p.turn, "mirrored": False} for p in row]
            for row in rows
        ],
    )
    found = []
    for row in rows:
        laid = SheetNest(noun.job, (SheetLayout(noun.layouts[0].stock, tuple(row)),))
        found.append(sum(finding.code != "count-off" for finding in route.check_nest(laid)))
    assert seen == found
    assert 20 < sum(count == 0 for count in found) < 180
    assert any("frame" in {p.part for p in row} and count == 0 for row, count in zip(rows, found, strict=True))
