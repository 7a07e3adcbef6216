"""One load: its page at every stage, pulling it out of turn, putting it back, cut, failed, undo, and its cut file."""

import re
import uuid

import pytest
from django.urls import reverse

from nesting import route
from shopfloor.floor.mark import mark_cut
from shopfloor.floor.models import FloorEvent, LoadState, WorkpieceState
from shopfloor.stock.models import StockItem
from tests.factories.stock import CuttingRuleFactory


def page_of(tablet, load):
    answer = tablet.get("floor:load-page", load.pk)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_page_says_what_to_load_and_what_to_watch_for(shop, tablet, load_in_hand):
    CuttingRuleFactory(material=shop.material, settings_note="Nozzle 1.2, slow on small holes.")
    page = page_of(tablet, load_in_hand)
    assert "Rack 2" in page
    assert "H1" in page
    assert "Nozzle 1.2" in page
    assert "extraction" in page or "oxygen" in page
    assert "Class 4 laser" in page
    assert 'data-piece="6"' in page


# Source: by hand, 1000 x 500 x 8 mm of 7850 kg/m3 is 31.4 kg, above the 23 kg of the NIOSH load constant; 2 mm are not.
@pytest.mark.parametrize(("thickness", "says"), [("8", True), ("2", False)])
def test_a_heavy_sheet_is_said_to_be_heavy(shop, tablet, thickness, says):
    shop.sheets(thickness_mm=thickness)
    load = shop.loads(shop.line(1, thickness_mm=thickness))[0]
    assert ("plan the lifting" in page_of(tablet, load)) is says


def test_a_bar_has_the_same_page_with_its_own_picture(shop, tablet):
    shop.bars(heat_no="T7")
    load = shop.loads(shop.tube_line(3))[0]
    page = page_of(tablet, load)
    assert "split-bar" in page
    assert "Load this bar" in page
    assert "bar-picture" in page


def test_a_waiting_load_can_be_pulled_out_of_turn(tablet, load):
    assert "Pull this one" in page_of(tablet, load)
    assert tablet.post("floor:load-pull", load.pk).url == reverse("floor:load-page", args=[load.pk])
    load.refresh_from_db()
    assert load.state == LoadState.AT_MACHINE


def test_a_load_in_hand_can_be_put_back(shop, tablet, load_in_hand):
    answer = tablet.post("floor:load-put-back", load_in_hand.pk)
    assert answer.url == reverse("floor:machine-page", args=[shop.machine.pk])
    load_in_hand.refresh_from_db()
    assert (load_in_hand.state, load_in_hand.pulled_by) == (LoadState.WAITING, None)


def test_cut_by_the_sender_of_marks_names_the_next_page(tablet, load_in_hand, states):
    answer = tablet.mark("floor:load-mark-cut", load_in_hand.pk)
    assert (answer.status_code, answer["HX-Redirect"]) == (200, reverse("floor:load-page", args=[load_in_hand.pk]))
    assert set(states(load_in_hand).values()) == {WorkpieceState.CUT}


def test_cut_by_a_plain_form_redirects(tablet, load_in_hand):
    assert tablet.post("floor:load-mark-cut", load_in_hand.pk).status_code == 302


def test_cut_sent_twice_counts_once(tablet, load_in_hand):
    key = uuid.uuid4()
    assert [tablet.mark("floor:load-mark-cut", load_in_hand.pk, key=key).status_code for _ in range(2)] == [200, 200]
    assert FloorEvent.objects.filter(verb="mark-cut").count() == 1
    assert load_in_hand.stock.__class__.objects.get(pk=load_in_hand.stock_id).on_hand == 2


def test_a_load_that_is_cut_cannot_be_cut_again(tablet, cut_load):
    answer = tablet.mark("floor:load-mark-cut", cut_load.pk)
    assert answer.status_code == 409
    assert "Reload the page" in answer.content.decode()


def test_an_inspector_cannot_mark_cut(inspectors_tablet, load_in_hand):
    assert inspectors_tablet.mark("floor:load-mark-cut", load_in_hand.pk).status_code == 403
    load_in_hand.refresh_from_db()
    assert load_in_hand.state == LoadState.AT_MACHINE


@pytest.mark.parametrize(("keep", "remnants"), [("yes", 1), ("no", 0)])
def test_what_is_left_is_kept_or_not(tablet, load_in_hand, keep, remnants):
    layout = load_in_hand.layout
    layout.remnant = {"length_mm": 500.0, "width_mm": 500.0, "outline": None}
    layout.save(update_fields=["remnant"])
    assert "keep_remnant" in page_of(tablet, load_in_hand)
    tablet.mark("floor:load-mark-cut", load_in_hand.pk, keep_remnant=keep)
    assert StockItem.objects.filter(is_remnant=True, heat_no="H1").count() == remnants
    assert ("Put the remnant into the rack" in page_of(tablet, load_in_hand)) is bool(remnants)


def test_nothing_is_asked_about_a_remnant_where_none_is_left(tablet, load_in_hand):
    layout = load_in_hand.layout
    layout.remnant = None
    layout.save(update_fields=["remnant"])
    assert "keep_remnant" not in page_of(tablet, load_in_hand)


def test_failed_asks_why_and_marks_the_pieces_lost(tablet, load_in_hand, states):
    assert "Why did" in tablet.get("floor:load-mark-failed", load_in_hand.pk).content.decode()
    fields = {"reason": "tipped or jammed", "words": "head touched", "stock": "spoiled"}
    assert tablet.mark("floor:load-mark-failed", load_in_hand.pk, **fields).status_code == 200
    assert set(states(load_in_hand).values()) == {WorkpieceState.LOST}
    event = FloorEvent.objects.get(verb="mark-failed")
    assert event.why == "tipped or jammed: head touched"
    page = page_of(tablet, load_in_hand)
    assert "The cut failed" in page
    assert "Undo" in page


@pytest.mark.parametrize(("stock", "left"), [("spoiled", 2), ("usable", 3)])
def test_a_sheet_that_can_still_be_used_stays_in_stock(tablet, load_in_hand, stock, left):
    tablet.mark("floor:load-mark-failed", load_in_hand.pk, reason="other", stock=stock)
    item = StockItem.objects.get(pk=load_in_hand.stock_id)
    assert (item.on_hand, item.reserved) == (left, 0)


def test_failed_without_a_reason_is_asked_again(tablet, load_in_hand):
    answer = tablet.mark("floor:load-mark-failed", load_in_hand.pk, stock="spoiled")
    assert answer.status_code == 400
    assert "Say why it failed" in answer.content.decode()
    load_in_hand.refresh_from_db()
    assert load_in_hand.state == LoadState.AT_MACHINE


def test_failed_sent_twice_counts_once(tablet, load_in_hand):
    key = uuid.uuid4()
    for _ in range(2):
        assert tablet.mark("floor:load-mark-failed", load_in_hand.pk, key=key, reason="other").status_code == 200
    assert FloorEvent.objects.filter(verb="mark-failed").count() == 1


def test_a_load_that_is_cut_cannot_fail(tablet, cut_load):
    assert tablet.mark("floor:load-mark-failed", cut_load.pk, reason="other").status_code == 409


def test_an_inspector_cannot_mark_failed(inspectors_tablet, load_in_hand):
    assert inspectors_tablet.mark("floor:load-mark-failed", load_in_hand.pk, reason="other").status_code == 403


def test_undo_takes_the_last_mark_back(tablet, cut_load, states):
    assert "Undo" in page_of(tablet, cut_load)
    tablet.mark("floor:load-undo", cut_load.pk)
    cut_load.refresh_from_db()
    assert cut_load.state == LoadState.AT_MACHINE
    assert set(states(cut_load).values()) == {WorkpieceState.NESTED}


def test_undo_sent_twice_takes_one_mark_back(tablet, broken_out_load):
    key = uuid.uuid4()
    for _ in range(2):
        assert tablet.mark("floor:load-undo", broken_out_load.pk, key=key).status_code == 200
    broken_out_load.refresh_from_db()
    assert broken_out_load.state == LoadState.CUT


def test_two_people_who_undo_what_both_see_take_back_one_mark(tablet, broken_out_load):
    [seen] = re.findall(r'name="mark" value="(\d+)"', page_of(tablet, broken_out_load))
    assert tablet.mark("floor:load-undo", broken_out_load.pk, mark=seen).status_code == 200
    answer = tablet.mark("floor:load-undo", broken_out_load.pk, mark=seen)
    assert answer.status_code == 409
    assert "not the last one any more" in answer.content.decode()
    broken_out_load.refresh_from_db()
    assert broken_out_load.state == LoadState.CUT


def test_undo_with_nothing_to_take_back_is_refused(tablet, load_in_hand):
    answer = tablet.mark("floor:load-undo", load_in_hand.pk)
    assert answer.status_code == 409
    assert "no mark to take back" in answer.content.decode()


def test_whoever_may_not_make_a_mark_cannot_undo_it(inspectors_tablet, load_in_hand, people):
    mark_cut(load_in_hand, by=people.operator)
    assert "Undo" not in page_of(inspectors_tablet, load_in_hand)
    assert inspectors_tablet.mark("floor:load-undo", load_in_hand.pk).status_code == 403


def test_a_refusal_comes_back_to_the_page_without_scripts(tablet, cut_load):
    url = reverse("floor:load-page", args=[cut_load.pk])
    back = tablet.client.post(
        reverse("floor:load-mark-cut", args=[cut_load.pk]), headers={"Referer": f"http://testserver{url}"}, follow=True
    )
    assert back.redirect_chain == [(f"http://testserver{url}", 302)]
    assert "so this cannot be done" in back.content.decode()


def test_the_cut_file_is_downloaded_as_it_was_written(tablet, load_in_hand):
    answer = tablet.get("floor:load-cut-file", load_in_hand.pk)
    assert answer.content == bytes(load_in_hand.layout.cut_file)
    assert load_in_hand.layout.cut_file_name in answer["Content-Disposition"]


def test_a_bar_is_cut_from_its_drawing_laid_flat_where_there_is_one(shop, tablet):
    shop.bars(on_hand=2)
    plain, mitred = shop.loads(shop.tube_line(2))[0], shop.loads(shop.tube_line(2, mitre=45.0))[0]
    assert tablet.get("floor:load-cut-file", plain.pk).content == bytes(plain.layout.cut_file)
    answer = tablet.get("floor:load-cut-file", mitred.pk)
    assert answer["Content-Disposition"].endswith('.dxf"')
    assert answer.content == bytes(mitred.layout.flat_file)


def test_the_cut_list_on_paper_names_the_order_of_each_piece(monkeypatch, shop, tablet):
    shop.bars()
    line = shop.tube_line(2, mitre=45.0)
    shop.line(1, part=line.part)
    load = shop.loads(line)[0]
    told = {}
    monkeypatch.setattr(route, "bar_cut_list_pdf", lambda nest, index, **said: told.update(said) or b"%PDF-")
    assert tablet.get("floor:load-cut-list", load.pk)["Content-Type"] == "application/pdf"
    pieces = load.workpieces.select_related("line__order")
    assert told["orders"] == {piece.number: piece.line.order.number for piece in pieces}
    assert len(set(told["orders"].values())) == 2
    assert (told["title"], told["of"]) == (str(load.layout), "S235, square 40 x 40 x 3")


def test_a_sheet_has_no_cut_list_on_paper(tablet, load):
    assert tablet.get("floor:load-cut-list", load.pk).status_code == 404


def test_the_picture_alone_may_be_kept_by_the_tablet(tablet, load):
    answer = tablet.get("floor:layout-picture", load.layout_id)
    assert answer["Content-Type"].startswith("image/svg+xml")
    assert answer.content.decode() == load.layout.picture
    assert "immutable" in answer["Cache-Control"]
    assert "private" in answer["Cache-Control"]


def test_pages_with_marks_are_never_kept(tablet, load):
    assert "no-store" in tablet.get("floor:load-page", load.pk)["Cache-Control"]


def test_a_load_that_is_not_there_is_not_found(tablet, shop):
    assert tablet.get("floor:load-page", 4711).status_code == 404
    assert tablet.mark("floor:load-mark-cut", 4711).status_code == 404
