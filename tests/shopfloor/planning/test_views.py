"""Waiting work, nests under way, and one nest, as the office sees them."""

import io
from uuid import uuid4

import ezdxf
import pytest
from django.urls import reverse

from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.rule import planning_rule
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.stock import CuttingRuleFactory

pytestmark = pytest.mark.django_db
HTMX = {"hx-request": "true"}


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


def url(name, *args):
    return reverse(f"planning:{name}", args=args)


def group_of(line):
    from shopfloor.planning.demand import key_of

    line.refresh_from_db()
    return key_of(line).slug


def test_waiting_work_says_what_it_would_fill_and_from_which_stock(office, shop):
    shop.sheets(on_hand=3)
    shop.line(quantity=25)
    page = office.get(url("waiting-work")).text
    assert "25 pieces of 1 order" in page
    # Source: by hand, 25 plates of 100 x 60 on a sheet of 1000 x 500: 150 000 / 500 000.
    assert "0.3 sheets net" in page
    assert "3 × 1\u202f000\u202fmm × 500\u202fmm" in page


def test_work_without_stock_says_so_and_cannot_be_nested(office, shop):
    line = shop.line(quantity=2)
    page = office.get(url("waiting-work")).text
    assert "Nothing of this in stock." in page
    answer = office.post(url("nest-ask"), {"group": group_of(line), "key": uuid4()})
    assert answer.status_code == 409
    assert "Enter a sheet or bar under Stock first" in answer.text


def test_nest_all_of_it_takes_every_open_piece(office, shop):
    shop.sheets()
    line = shop.line(quantity=7)
    answer = office.post(url("nest-ask"), {"group": group_of(line), "key": uuid4(), "all": "1"})
    nest = Nest.objects.get()
    assert answer.url == url("nest-show", nest.pk)
    assert nest.wanted_count == 7
    assert "Nothing waits." in office.get(url("waiting-work")).text


def test_nesting_asked_for_twice_with_one_key_is_one_nest(office, shop):
    shop.sheets()
    sent = {"group": group_of(shop.line(quantity=7)), "key": uuid4(), "all": "1"}
    office.post(url("nest-ask"), sent)
    office.post(url("nest-ask"), sent)
    assert Nest.objects.count() == 1


def test_only_the_counts_typed_are_nested(office, shop):
    shop.sheets()
    order = ConfirmedOrderFactory()
    first, second = shop.line(quantity=7, order=order), shop.line(quantity=5, order=order)
    sent = {"group": group_of(first), "all": "0", f"line-{first.pk}": "3", f"line-{second.pk}": "0", "key": uuid4()}
    office.post(url("nest-ask"), sent)
    assert Nest.objects.get().wanted_count == 3
    for line in (first, second):
        line.refresh_from_db()
    assert (first.open_count, second.open_count) == (4, 5)


def test_the_rest_may_fill_room_and_orders_may_be_kept_together(office, shop):
    shop.sheets(on_hand=2)
    first, second = shop.line(quantity=7), shop.line(quantity=5)
    page = office.get(url("waiting-work")).text
    assert "Keep each order together" in page
    assert f'name="fill-{second.pk}"' in page
    sent = {"group": group_of(first), "all": "0", "together": "1", "key": uuid4()}
    counts = {f"line-{first.pk}": "3", f"line-{second.pk}": "0", f"fill-{second.pk}": "1", "fill-x": "1"}
    office.post(url("nest-ask"), sent | counts)
    nest = Nest.objects.get()
    assert (nest.wanted_count, nest.kits_together) == (3, True)
    assert {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()} == {first.pk: (3, 0), second.pk: (5, 5)}


def test_nest_all_of_it_leaves_nothing_to_fill_room_with(office, shop):
    shop.sheets(on_hand=2)
    line = shop.line(quantity=7)
    office.post(url("nest-ask"), {"group": group_of(line), "all": "1", f"fill-{line.pk}": "1", "key": uuid4()})
    assert [(d.count, d.fill_count) for d in Nest.objects.get().demands.all()] == [(7, 0)]


def test_what_a_group_cannot_have_is_not_offered(office, shop):
    CuttingRuleFactory(material=shop.material, thickness_mm=None, most_kinds=2)
    shop.line(quantity=7)
    page = office.get(url("waiting-work")).text
    assert "At most 2 different parts on a sheet." in page
    assert "may fill room" not in page
    # One order alone is together anyway.
    assert 'name="together"' not in page


def test_a_rule_for_the_thickness_comes_before_the_one_for_all_others(office, shop):
    CuttingRuleFactory(material=shop.material, thickness_mm=None, most_kinds=2)
    CuttingRuleFactory(material=shop.material, thickness_mm=2)
    shop.line(quantity=7)
    assert "may fill room" in office.get(url("waiting-work")).text


def test_bars_have_no_room_to_fill(office, shop):
    shop.bars()
    shop.tube_line(2)
    shop.tube_line(2, length=500.0)
    page = office.get(url("waiting-work")).text
    assert "Nest these counts" in page
    assert "may fill room" not in page
    assert 'name="together"' not in page


def test_a_nest_says_for_each_order_on_which_sheets_it_lies_and_what_fills_room(office, shop):
    # Source: by hand, a sheet of 330 x 220 takes nine plates of 100 x 60.
    shop.sheets(on_hand=3, length_mm=330, width_mm=220)
    wanted, other = shop.line(10), shop.line(12)
    nest = shop.ready_nest(wanted, only={wanted.pk: 10}, fill={other.pk: 12}, together=True)
    page = office.get(url("nest-show", nest.pk)).text
    assert "10 of 10, and 8 in left-over room" in page
    assert "each kept on as few sheets as can be" in page
    assert "<strong>1–2</strong>" in page
    assert "<strong>2</strong>" in page
    assert "Not placed" not in page


@pytest.mark.parametrize(
    ("field", "value"), [("line", "-3"), ("line", "many"), ("budget_s", "soon"), ("group", "sheet-x-1-")]
)
def test_what_cannot_be_is_refused_with_a_sentence(office, shop, field, value):
    shop.sheets()
    line = shop.line(quantity=7)
    sent = {"group": group_of(line), "all": "0", f"line-{line.pk}": "1", "key": uuid4()}
    sent[f"line-{line.pk}" if field == "line" else field] = value
    answer = office.post(url("nest-ask"), sent)
    assert answer.status_code == 400
    assert not Nest.objects.exists()


def test_an_inspector_cannot_ask_for_a_nest(client, people, shop):
    client.force_login(people.inspector)
    shop.sheets()
    assert client.post(url("nest-ask"), {"group": group_of(shop.line()), "key": uuid4()}).status_code == 403
    assert not Nest.objects.exists()


def test_a_nest_that_is_laid_out_shows_the_best_so_far(office, shop):
    shop.sheets()
    nest = shop.ask(shop.line(quantity=4))
    Nest.objects.filter(pk=nest.pk).update(
        state=NestState.LAYING,
        best={"placed": 3, "wanted": 4, "yield": 0.25, "stock": 1, "proven_optimal": False},
        best_picture="<svg class='picture'><title>best</title></svg>",
    )
    page = office.get(url("nest-progress", nest.pk), headers=HTMX).text
    assert "3 of 4 pieces" in page
    assert "<title>best</title>" in page
    assert "Take the best so far" in page


def test_a_nest_that_is_ready_makes_the_browser_load_the_page(office, shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=4))
    assert office.get(url("nest-progress", nest.pk), headers=HTMX)["HX-Refresh"] == "true"
    page = office.get(url("nest-show", nest.pk)).text
    assert "Release to Laser" in page
    assert "4 of 4" in page


def test_a_failed_nest_tells_why_and_what_to_do(office, shop):
    shop.sheets()
    nest = shop.ask(shop.line(quantity=4))
    Nest.objects.filter(pk=nest.pk).update(state=NestState.FAILED, failure="The stock was promised meanwhile.")
    page = office.get(url("nest-show", nest.pk)).text
    assert "The stock was promised meanwhile." in page
    assert "Nest again" in page


def test_cancelling_gives_the_pieces_back(office, shop):
    shop.sheets()
    line = shop.line(quantity=4)
    nest = shop.ask(line)
    office.post(url("nest-cancel", nest.pk), {"key": uuid4()})
    line.refresh_from_db()
    nest.refresh_from_db()
    assert (nest.state, line.open_count) == (NestState.THROWN_AWAY, 4)


def test_throwing_away_sent_twice_happens_once(office, shop):
    shop.sheets()
    line = shop.line(quantity=4)
    nest, key = shop.ready_nest(line), uuid4()
    for _ in range(2):
        assert office.post(url("nest-throw-away", nest.pk), {"key": key}).status_code == 302
    line.refresh_from_db()
    assert line.open_count == 4
    assert nest.events.filter(verb="throw-away").count() == 1


def test_a_released_nest_cannot_be_thrown_away(office, shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=4))
    office.post(reverse("floor:nest-release", args=(nest.pk,)), {"key": uuid4()})
    assert office.post(url("nest-throw-away", nest.pk), {"key": uuid4()}).status_code == 409
    office.post(reverse("floor:nest-recall", args=(nest.pk,)), {"key": uuid4()})
    assert office.post(url("nest-throw-away", nest.pk), {"key": uuid4()}).status_code == 302


def test_the_cut_file_is_a_download(office, shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=4))
    answer = office.get(url("cut-file", nest.pk, 1))
    assert answer["Content-Disposition"] == f'attachment; filename="nest-{nest.pk}-01.dxf"'
    assert b"LWPOLYLINE" in answer.content


def test_a_bar_is_offered_laid_flat_and_on_paper_beside_its_list(office, shop):
    shop.bars()
    line = shop.tube_line(quantity=3, mitre=45.0)
    nest = shop.ready_nest(line)
    page = office.get(url("nest-show", nest.pk)).text
    answers = {}
    for name in ("flat-file", "cut-list", "cut-file"):
        assert url(name, nest.pk, 1) in page
        answers[name] = office.get(url(name, nest.pk, 1))
    stem = f"nest-{nest.pk}-01"
    assert [answer["Content-Disposition"] for answer in answers.values()] == [
        f'attachment; filename="{stem}.{ending}"' for ending in ("dxf", "pdf", "csv")
    ]
    # Every piece has two end cuts in the drawing.
    drawing = ezdxf.read(io.StringIO(answers["flat-file"].content.decode()))
    assert len(drawing.modelspace().query('*[layer=="END_CUTS"]')) == 6
    assert answers["cut-list"].content.startswith(b"%PDF-")
    assert "mitre 45°" in answers["cut-file"].content.decode()


def test_a_bar_of_parts_known_by_length_alone_is_not_offered_laid_flat(office, shop):
    shop.bars()
    nest = shop.ready_nest(shop.tube_line(quantity=3))
    assert url("flat-file", nest.pk, 1) not in office.get(url("nest-show", nest.pk)).text
    assert office.get(url("flat-file", nest.pk, 1)).status_code == 404
    assert office.get(url("cut-list", nest.pk, 1)).status_code == 200


def test_a_sheet_has_no_cut_list(office, shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=4))
    assert [office.get(url(name, nest.pk, 1)).status_code for name in ("flat-file", "cut-list")] == [404, 404]


def test_the_planning_rule_is_kept(office):
    office.post(url("rule-edit"), {"by_itself": "on", "enough_share": "0.5", "days_ahead": "3", "budget_s": "15"})
    rule = planning_rule()
    assert (rule.by_itself, rule.enough_share, rule.days_ahead, rule.budget_s) == (True, 0.5, 3, 15)


@pytest.mark.parametrize("budget_s", ["0", "1", "601", "x"])
def test_a_time_to_think_that_cannot_be_is_refused_beside_its_field(office, budget_s):
    sent = {"enough_share": "0.5", "days_ahead": "3", "budget_s": budget_s}
    answer = office.post(url("rule-edit"), sent)
    assert answer.status_code == 200
    assert "errorlist" in answer.text


def test_the_list_of_nests_takes_as_many_queries_for_many_as_for_one(office, shop, django_assert_max_num_queries):
    shop.sheets(on_hand=9)
    for _ in range(5):
        shop.ready_nest(shop.line(quantity=1))
    # Session, user, roles, and one a state.
    with django_assert_max_num_queries(9):
        assert office.get(url("nest-list")).status_code == 200


def test_waiting_work_takes_as_many_queries_for_many_groups_as_for_one(office, shop, django_assert_max_num_queries):
    shop.sheets()
    for thickness in ("1", "2", "3", "4"):
        for _ in range(3):
            shop.line(quantity=2, thickness_mm=thickness)
    planning_rule()
    with django_assert_max_num_queries(12):
        assert office.get(url("waiting-work")).status_code == 200
