"""Where an order's pieces are, what the floor did on them, job card and labels."""

from django.urls import reverse

from shopfloor.floor.inspection import Verdict, inspect
from shopfloor.floor.mark import break_out
from shopfloor.floor.models import WorkpieceState
from shopfloor.floor.queries import lines_on


def orders_of(load):
    return [line.line.order for line in lines_on(load)]


def test_the_order_page_gets_its_pieces_as_a_fragment(tablet_of, people, cut_load):
    office, order = tablet_of(people.office), orders_of(cut_load)[0]
    url = reverse("floor:order-pieces", args=[order.pk])
    fragment = office.client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in fragment
    assert str(cut_load) in fragment
    assert "1–4" in fragment
    assert "<html" in office.client.get(url).content.decode()


def test_an_order_without_floor_work_says_so(tablet_of, people, shop):
    order = shop.line(1).order
    office = tablet_of(people.office)
    assert "still to be nested" in office.get("floor:order-pieces", order.pk).content.decode()


def test_an_unknown_order_is_not_found(tablet_of, people):
    assert tablet_of(people.office).get("floor:order-pieces", 999).status_code == 404


def test_the_job_card_names_stock_heat_cautions_and_pieces(tablet, load_in_hand):
    page = tablet.get("floor:job-card", load_in_hand.pk).content.decode()
    for words in ("H1", "Rack 2", "Class 4 laser", "Plot 9 Allotments", load_in_hand.layout.cut_file_name):
        assert words in page
    assert page.count('class="tick"') == 2 * 4


def test_a_label_stands_for_each_orders_pieces_that_are_out(tablet, cut_load, people):
    assert "No labels yet" in tablet.get("floor:labels", cut_load.pk).content.decode()
    break_out(cut_load, by=people.operator, lost=[5])
    inspect(cut_load, {1: Verdict(WorkpieceState.SCRAP, "dross")}, by=people.inspector)
    page = tablet.get("floor:labels", cut_load.pk)
    # Of 4 and 2 pieces one was scrapped and one lost.
    assert [count for _, count in page.context["groups"]] == [3, 1]
    text = page.content.decode()
    assert text.count('class="label"') == 2
    assert "Heat H1" in text
