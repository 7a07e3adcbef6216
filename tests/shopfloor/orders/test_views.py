"""The order board and the page of one order."""

from datetime import timedelta
from itertools import pairwise
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from shopfloor.orders import progress, queries
from shopfloor.orders.models import Order, OrderEvent, OrderLine, OrderState
from shopfloor.orders.progress import Shift
from tests.factories.orders import ConfirmedOrderFactory, CustomerFactory, OrderFactory, OrderFileFactory, line_of
from tests.factories.parts import part_row, plate, sheet_part
from tests.factories.stock import MaterialFactory, SheetFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


def get(client, name, /, *args, **query):
    return client.get(reverse(f"orders:{name}", args=args), query)


def post(client, name, /, *args, **fields):
    return client.post(reverse(f"orders:{name}", args=args), fields)


def test_nobody_sees_the_board_without_signing_in(client):
    answer = get(client, "order-board")
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("accounts:sign-in"))


def test_a_person_without_a_role_is_told_so_in_words(client, people):
    client.force_login(people.nobody)
    answer = get(client, "order-board")
    assert answer.status_code == 403
    assert "takes the role" in answer.text


def test_the_board_shows_the_earliest_due_first_and_what_each_waits_for(office):
    today = timezone.localdate()
    late = ConfirmedOrderFactory(due_on=today - timedelta(days=1), customer=CustomerFactory(name="Saltway"))
    soon = ConfirmedOrderFactory(due_on=today + timedelta(days=1), customer=CustomerFactory(name="Fennel Row"))
    line_of(soon, quantity=4)
    line = line_of(late, quantity=10)
    progress.report([Shift(line.pk, "", "planned", 6), Shift(line.pk, "planned", "nested", 6)], by=None)
    page = get(office, "order-board").text
    assert page.index("Saltway") < page.index("Fennel Row")
    assert "yesterday: late" in page
    assert "Waits: 4 to be nested, 6 to be cut." in page
    assert 'aria-label="0 of 10 good, 6 nested, 4 ordered"' in page


def test_a_piece_in_two_steps_is_never_counted_twice_on_the_board(office):
    line = line_of(ConfirmedOrderFactory(), quantity=3)
    progress.report([Shift(line.pk, "", "planned", 3), Shift(line.pk, "planned", "nested", 3)], by=None)
    progress.report([Shift(line.pk, "nested", "cut", 1)], by=None)
    assert "Waits: 2 to be cut, 1 to be broken out." in get(office, "order-board").text


@pytest.mark.parametrize(("words", "found"), [("saltway", True), ("HL-2", True), ("nowhere", False)])
def test_an_order_is_found_by_customer_or_reference(office, words, found):
    ConfirmedOrderFactory(customer=CustomerFactory(name="Saltway"), reference="HL-208")
    page = get(office, "order-board", q=words).text
    assert ("HL-208" in page) is found
    assert ("Nothing found for" in page) is not found


def test_an_order_is_found_by_its_number(office):
    order = ConfirmedOrderFactory(reference="by number")
    assert "by number" in get(office, "order-board", q=str(order.pk)).text


def test_orders_beyond_those_of_one_page_are_reached_page_by_page(office, monkeypatch):
    monkeypatch.setattr(queries, "MOST_ON_BOARD", 2)
    for n in range(5):
        ConfirmedOrderFactory(reference=f"batch {n}", due_on=timezone.localdate() + timedelta(days=n))
    seen = []
    for start in ("", "2", "4"):
        page = get(office, "order-board", **{"from": start}).text
        seen.append([n for n in range(5) if f"batch {n}" in page])
        assert ("Show what follows" in page) is (start != "4")
        assert ("Back to the first" in page) is (start != "")
    assert seen == [[0, 1], [2, 3], [4]]
    assert 'from=2">Show what follows' in get(office, "order-board", q="batch", **{"from": "²"}).text


def test_lines_stand_as_their_files_were_put_in_not_as_their_reading_ended(office):
    order = ConfirmedOrderFactory()
    first, second = (OrderFileFactory(order=order) for _ in range(2))
    for file, name in ((second, "hinge"), (first, "gate")):
        OrderLine.objects.create(order=order, file=file, part=part_row(plate(name)), quantity=1)
    for page in (get(office, "order-show", order.pk).text, get(office, "order-board").text):
        assert page.index("gate") < page.index("hinge")


def test_a_shop_without_orders_is_told_what_to_enter_first(office):
    page = get(office, "order-board").text
    assert all(reverse(name) in page for name in ("stock:material-list", "stock:machine-list", "stock:item-new"))
    SheetFactory()
    page = get(office, "order-board").text
    assert "Add a material: done" in page
    assert "Add a machine: done" not in page
    OrderFactory()
    assert "To begin" not in get(office, "order-board").text


def test_the_board_takes_as_many_queries_for_200_orders_as_for_one(office, django_assert_max_num_queries):
    material, part = MaterialFactory(), sheet_part()
    for _ in range(200):
        line_of(ConfirmedOrderFactory(), part, material=material)
    # Session, user, roles, counts, orders, lines.
    with django_assert_max_num_queries(7):
        get(office, "order-board")


def test_the_page_of_an_order_takes_as_many_queries_for_many_lines_as_for_one(office, django_assert_max_num_queries):
    material, part = MaterialFactory(), sheet_part()
    for _ in range(199):
        line_of(ConfirmedOrderFactory(), part, material=material)
    order = ConfirmedOrderFactory()
    for _ in range(8):
        line_of(order)
    with django_assert_max_num_queries(6):
        assert get(office, "order-show", order.pk).status_code == 200


def test_the_history_tells_who_did_what(office, people):
    line = line_of(ConfirmedOrderFactory(), quantity=5)
    progress.report([Shift(line.pk, "", "planned", 5)], by=people.office, place="Nest 7")
    page = get(office, "order-history", line.order_id).text
    assert f"5 × {line.part.name}: taken for nesting (Nest 7)" in page
    assert str(people.office) in page


def test_an_order_that_is_not_there_is_a_page_and_no_fault(office):
    answer = get(office, "order-show", 99999)
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.text


def complete_order():
    line = line_of(ConfirmedOrderFactory(), quantity=1)
    steps = ["", "planned", "nested", "cut", "broken_out", "good"]
    for before, after in pairwise(steps):
        progress.report([Shift(line.pk, before, after, 1)], by=None)
    return Order.objects.get(pk=line.order_id)


def test_a_complete_order_is_handed_over(office):
    order = complete_order()
    post(office, "order-hand-over", order.pk, key=uuid4())
    order.refresh_from_db()
    assert order.state == OrderState.HANDED_OVER


def test_an_order_in_work_cannot_be_handed_over(office):
    order = ConfirmedOrderFactory()
    answer = post(office, "order-hand-over", order.pk, key=uuid4())
    assert answer.status_code == 409
    order.refresh_from_db()
    assert order.state == OrderState.CONFIRMED


def test_an_operator_cannot_hand_over(client, people):
    client.force_login(people.operator)
    order = complete_order()
    assert post(client, "order-hand-over", order.pk, key=uuid4()).status_code == 403
    order.refresh_from_db()
    assert order.state == OrderState.COMPLETE


def test_handing_over_sent_twice_happens_once(office):
    order, key = complete_order(), uuid4()
    for _ in range(2):
        assert post(office, "order-hand-over", order.pk, key=key).status_code == 302
    assert OrderEvent.objects.filter(order=order, verb="hand-over").count() == 1


def test_a_refused_post_goes_back_to_its_page_with_the_reason(office):
    order = ConfirmedOrderFactory()
    page = reverse("orders:order-show", args=(order.pk,))
    url = reverse("orders:order-hand-over", args=(order.pk,))
    answer = office.post(url, {}, headers={"referer": f"http://testserver{page}"}, follow=True)
    assert answer.redirect_chain == [(f"http://testserver{page}", 302)]
    assert "it is confirmed" in answer.text


def test_cancelling_needs_pieces_that_are_not_under_way(office):
    line = line_of(ConfirmedOrderFactory(), quantity=2)
    progress.report([Shift(line.pk, "", "planned", 1)], by=None)
    answer = post(office, "order-cancel", line.order_id, why="changed mind", key=uuid4())
    assert answer.status_code == 409
    assert "pieces on a nest" in answer.text


def test_a_draft_opens_where_it_is_entered(office):
    order = OrderFactory()
    assert get(office, "order-show", order.pk).url == reverse("orders:order-enter", args=(order.pk,))


def test_customers_are_added_and_corrected(office):
    post(office, "customer-list", name="Two Wheel Trailers", contact="Ada", note="")
    customer = Order._meta.get_field("customer").related_model.objects.get()
    post(office, "customer-edit", customer.pk, name="Two Wheel Trailers", contact="Bea", note="")
    customer.refresh_from_db()
    assert customer.contact == "Bea"
    assert "Bea" in get(office, "customer-list").text
