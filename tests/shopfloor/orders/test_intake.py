import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from nesting import route
from nesting.model.reading import Reading
from shopfloor.base.errors import BadInput, NotYourRole, WrongState
from shopfloor.orders.intake import (
    add_files,
    answer,
    open_order,
    set_line,
    take_out,
)
from shopfloor.orders.models import MOST_PIECES, Order, OrderEvent, OrderFile, OrderLine, OrderState
from shopfloor.orders.order_state import confirm
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.read import read
from tests.factories.orders import CustomerFactory, OrderFactory, line_of
from tests.factories.parts import plate, tube, tube_part
from tests.factories.stock import MaterialFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def reader(monkeypatch, settings, tmp_path):
    """Reads every .dxf as two plates, every .step as one rail and a frame as four legs and a brace."""
    settings.MEDIA_ROOT = tmp_path

    def read_drawing(path, name, *, unit, join):
        if name.startswith("frame"):
            return Reading("tube", (tube("leg"), tube("brace")), counts=(4, 1))
        if name.endswith(".step"):
            return Reading("tube", (tube(name),))
        return Reading("sheet", (plate(f"{name} 1"), plate(f"{name} 2")), unit=unit)

    monkeypatch.setattr(route, "read_drawing", read_drawing)


def upload(name="gate.dxf", content=b"0\nSECTION\n"):
    return SimpleUploadedFile(name, content + name.encode())


def read_all():
    for pk in Drawing.objects.filter(state=DrawingState.QUEUED).values_list("pk", flat=True):
        read(pk)


def names(order):
    return [line.part.name for line in order.lines.all()]


class TestOpenOrder:
    def test_it_makes_a_draft_with_an_event(self, people):
        order = open_order(CustomerFactory(), date(2026, 12, 3), by=people.office, reference=" A-7 ", note=" soon ")
        order.refresh_from_db()
        assert (order.state, order.due_on) == (OrderState.DRAFT, date(2026, 12, 3))
        assert (order.reference, order.note) == ("A-7", "soon")
        event = order.events.get()
        assert (event.verb, event.actor, event.to_state) == ("enter", people.office, OrderState.DRAFT)

    def test_it_is_office_work(self, people):
        for who in (people.operator, people.inspector, people.nobody):
            with pytest.raises(NotYourRole):
                open_order(CustomerFactory(), date(2026, 12, 3), by=who)
        assert not Order.objects.exists()

    def test_sent_twice_it_makes_one(self, people):
        customer, key = CustomerFactory(), uuid.uuid4()
        first = open_order(customer, date(2026, 12, 3), by=people.office, key=key)
        assert open_order(customer, date(2026, 12, 3), by=people.office, key=key) == first
        assert Order.objects.count() == 1

    @pytest.mark.slow
    def test_sent_eight_times_at_once_it_makes_one(self, people, at_once):
        customer, key = CustomerFactory(), uuid.uuid4()
        orders = at_once(8, lambda _: open_order(customer, date(2026, 12, 3), by=people.office, key=key).pk)
        assert len(set(orders)) == 1
        assert Order.objects.count() == 1


class TestAddFiles:
    def test_parts_of_the_files_become_lines_when_they_have_been_read(self, people):
        order = OrderFactory()
        assert add_files(order, [upload("gate.dxf"), upload("rail.step")], by=people.office) == []
        assert [str(file) for file in order.files.all()] == ["gate.dxf", "rail.step"]
        assert names(order) == []
        read_all()
        assert names(order) == ["gate.dxf 1", "gate.dxf 2", "rail.step"]
        rail = order.lines.last()
        assert (rail.is_tube, rail.quantity, rail.section) == (True, 1, rail.part.section)

    def test_a_line_starts_with_as_many_as_the_file_holds(self, people):
        order = OrderFactory()
        add_files(order, [upload("frame.step")], by=people.office)
        read_all()
        assert [(line.part.name, line.quantity) for line in order.lines.all()] == [("leg", 4), ("brace", 1)]

    def test_a_bad_file_is_named_and_does_not_keep_the_others_out(self, people):
        order = OrderFactory()
        files = [upload("gate.dxf"), upload("list.xlsx"), SimpleUploadedFile("empty.dxf", b""), upload("hinge.dxf")]
        refusals = add_files(order, files, by=people.office)
        assert [refusal.split(":")[0] for refusal in refusals] == ["list.xlsx", "empty.dxf"]
        assert [str(file) for file in order.files.all()] == ["gate.dxf", "hinge.dxf"]

    def test_a_drawing_that_was_read_for_another_order_gives_its_lines_in_the_same_transaction(self, people):
        add_files(OrderFactory(), [upload()], by=people.office)
        read_all()
        order = OrderFactory()
        add_files(order, [upload()], by=people.office)
        assert names(order) == ["gate.dxf 1", "gate.dxf 2"]

    def test_a_file_put_in_twice_is_there_once(self, people):
        order = OrderFactory()
        for _ in range(2):
            add_files(order, [upload(), upload()], by=people.office)
            read_all()
        assert order.files.count() == 1
        assert order.lines.count() == 2

    def test_a_file_that_is_there_already_is_told_by_name_whatever_unit_it_was_read_in(self, people):
        order = OrderFactory()
        said = "gate.dxf: this very file is in the order already. For more pieces set its quantity there."
        assert add_files(order, [upload(), upload()], by=people.office) == [said]
        answer(order.files.get(), by=people.office, unit="inch")
        assert add_files(order, [upload(), upload("hinge.dxf")], by=people.office) == [said]
        assert [str(file) for file in order.files.all()] == ["gate.dxf", "hinge.dxf"]
        assert order.events.order_by("-pk").first().why == "hinge.dxf"

    def test_a_new_line_starts_with_what_the_last_one_said(self, people):
        order, steel = OrderFactory(), MaterialFactory()
        line_of(order, material=steel, thickness_mm="3")
        add_files(order, [upload("gate.dxf"), upload("rail.step")], by=people.office)
        read_all()
        said = [(line.material, line.thickness_mm) for line in order.lines.all()[1:]]
        assert said == [(steel, Decimal(3)), (steel, Decimal(3)), (steel, None)]

    @pytest.mark.parametrize("state", [s for s in OrderState if s != OrderState.DRAFT])
    def test_an_order_that_is_no_draft_takes_none(self, people, state):
        order = OrderFactory(state=state)
        with pytest.raises(WrongState, match="Enter a new order for more"):
            add_files(order, [upload()], by=people.office)
        assert not OrderFile.objects.exists()

    def test_it_is_office_work(self, people):
        with pytest.raises(NotYourRole):
            add_files(OrderFactory(), [upload()], by=people.operator)
        assert not Drawing.objects.exists()

    def test_sent_twice_it_counts_once(self, people):
        order, key = OrderFactory(), uuid.uuid4()
        for _ in range(2):
            add_files(order, [upload()], by=people.office, key=key)
        assert order.files.count() == 1
        assert order.events.count() == 1

    def test_a_repeat_that_comes_after_the_order_was_confirmed_gets_the_first_answer(self, people):
        order, key = OrderFactory(), uuid.uuid4()
        add_files(order, [upload()], by=people.office, key=key)
        Order.objects.update(state=OrderState.CONFIRMED)
        assert add_files(order, [upload()], by=people.office, key=key) == []

    def test_an_order_that_was_confirmed_meanwhile_gets_no_lines(self, people):
        order = OrderFactory()
        add_files(order, [upload()], by=people.office)
        Order.objects.update(state=OrderState.CANCELLED)
        read_all()
        assert names(order) == []

    @pytest.mark.slow
    def test_read_and_put_in_at_the_same_moment_no_part_is_lost(self, people, at_once):
        for number in range(6):
            name = f"gate{number}.dxf"
            add_files(OrderFactory(), [upload(name)], by=people.office)
            drawing, order = Drawing.objects.get(name=name), OrderFactory()

            def work(n, drawing=drawing, order=order, name=name):
                if n:
                    add_files(order, [upload(name)], by=people.office)
                else:
                    read(drawing.pk)

            at_once(2, work)
            assert names(order) == [f"{name} 1", f"{name} 2"]

    @pytest.mark.slow
    def test_two_orders_that_take_the_same_files_crosswise_at_once_get_all_their_lines(self, people, at_once):
        files = [f"gate{n}.dxf" for n in range(4)]
        add_files(OrderFactory(), [upload(name) for name in files], by=people.office)
        read_all()
        orders = [OrderFactory() for _ in range(4)]

        def work(n):
            order = files if n % 2 else files[::-1]
            add_files(orders[n], [upload(name) for name in order], by=people.office)

        at_once(4, work)
        assert [order.lines.count() for order in orders] == [8] * 4


class TestAnswer:
    def file_of(self, people):
        order = OrderFactory()
        add_files(order, [upload()], by=people.office)
        read_all()
        return order.files.get()

    def test_another_unit_makes_the_lines_anew(self, people):
        file = self.file_of(people)
        old = set(file.order.lines.values_list("pk", flat=True))
        answered = answer(file, by=people.office, unit="inch")
        assert answered.drawing.unit == "inch"
        assert names(file.order) == []
        read_all()
        assert names(file.order) == ["gate.dxf 1", "gate.dxf 2"]
        assert not old & set(file.order.lines.values_list("pk", flat=True))
        assert file.order.files.count() == 1

    def test_an_answer_that_was_read_before_gives_its_lines_at_once(self, people):
        answer(self.file_of(people), by=people.office, unit="inch")
        read_all()
        file = self.file_of(people)
        answer(file, by=people.office, unit="inch")
        assert names(file.order) == ["gate.dxf 1", "gate.dxf 2"]

    def test_the_same_answer_changes_nothing(self, people):
        file = self.file_of(people)
        old = list(file.order.lines.values_list("pk", flat=True))
        assert answer(file, by=people.office, unit="") == file
        assert list(file.order.lines.values_list("pk", flat=True)) == old

    def test_it_is_refused_for_others_and_after_confirming(self, people):
        file = self.file_of(people)
        with pytest.raises(NotYourRole):
            answer(file, by=people.inspector, unit="inch")
        Order.objects.update(state=OrderState.CONFIRMED)
        with pytest.raises(WrongState):
            answer(file, by=people.office, unit="inch")
        assert file.order.lines.count() == 2

    def test_sent_twice_it_counts_once(self, people):
        file, key = self.file_of(people), uuid.uuid4()
        for _ in range(2):
            answer(OrderFile.objects.get(pk=file.pk), by=people.office, key=key, unit="inch")
        assert file.order.events.filter(verb="answer-file").count() == 1


class TestTakeOut:
    def test_the_file_goes_with_its_lines_and_the_drawing_stays(self, people):
        order = OrderFactory()
        add_files(order, [upload("gate.dxf"), upload("hinge.dxf")], by=people.office)
        read_all()
        take_out(order.files.first(), by=people.office)
        assert names(order) == ["hinge.dxf 1", "hinge.dxf 2"]
        assert Drawing.objects.count() == 2

    def test_it_is_refused_for_others_and_after_confirming(self, people):
        line = line_of(OrderFactory())
        with pytest.raises(NotYourRole):
            take_out(line.file, by=people.operator)
        Order.objects.update(state=OrderState.CONFIRMED)
        with pytest.raises(WrongState):
            take_out(line.file, by=people.office)
        assert OrderLine.objects.count() == 1

    def test_sent_twice_it_counts_once(self, people):
        line, key = line_of(OrderFactory()), uuid.uuid4()
        twin = OrderFile.objects.get()
        take_out(line.file, by=people.office, key=key)
        take_out(twin, by=people.office, key=key)
        assert OrderEvent.objects.count() == 1


class TestSetLine:
    def test_what_is_stated_is_stored(self, people):
        line, steel = line_of(OrderFactory()), MaterialFactory()
        set_line(
            line,
            {"quantity": "12", "material": steel, "thickness_mm": "1,5", "grain": "along", "note": "x" * 400},
            by=people.office,
        )
        line.refresh_from_db()
        assert (line.quantity, line.material, line.thickness_mm) == (12, steel, Decimal("1.5"))
        assert (line.grain, line.note) == ("along", "x" * 300)

    def test_a_tube_line_has_no_thickness(self, people):
        line = line_of(OrderFactory(), tube_part())
        set_line(line, {"thickness_mm": "3"}, by=people.office)
        line.refresh_from_db()
        assert line.thickness_mm is None

    @pytest.mark.parametrize(
        ("values", "field"),
        [
            ({"quantity": "0"}, "quantity"),
            ({"quantity": "-1"}, "quantity"),
            ({"quantity": "1e9"}, "quantity"),
            ({"quantity": MOST_PIECES + 1}, "quantity"),
            ({"quantity": "2.5"}, "quantity"),
            ({"quantity": ""}, "quantity"),
            ({"quantity": None}, "quantity"),
            ({"quantity": "9" * 5000}, "quantity"),
            ({"thickness_mm": "thin"}, "thickness_mm"),
            ({"thickness_mm": "0"}, "thickness_mm"),
            ({"thickness_mm": "-2"}, "thickness_mm"),
            ({"thickness_mm": "101"}, "thickness_mm"),
            ({"thickness_mm": "NaN"}, "thickness_mm"),
            ({"thickness_mm": "sNaN"}, "thickness_mm"),
            ({"thickness_mm": "Infinity"}, "thickness_mm"),
            ({"material": "S235"}, "material"),
            ({"grain": "sideways"}, "grain"),
        ],
    )
    def test_what_cannot_be_is_refused_by_its_field(self, people, values, field):
        line = line_of(OrderFactory(), quantity=2)
        with pytest.raises(BadInput) as refusal:
            set_line(line, values, by=people.office)
        assert refusal.value.field == field
        line.refresh_from_db()
        assert (line.quantity, line.thickness_mm, line.grain) == (2, Decimal(2), "none")

    def test_it_is_refused_for_others_and_after_confirming(self, people):
        line = line_of(OrderFactory())
        with pytest.raises(NotYourRole):
            set_line(line, {"quantity": 3}, by=people.operator)
        confirm(line.order, by=people.office)
        with pytest.raises(WrongState):
            set_line(line, {"quantity": 3}, by=people.office)
        line.refresh_from_db()
        assert line.quantity == 1

    def test_sent_twice_it_counts_once(self, people):
        line, key = line_of(OrderFactory()), uuid.uuid4()
        for _ in range(2):
            set_line(OrderLine.objects.get(pk=line.pk), {"quantity": 3}, by=people.office, key=key)
        assert OrderEvent.objects.count() == 1

    @pytest.mark.slow
    def test_confirmed_and_changed_at_once_what_is_in_work_is_what_was_confirmed(self, people, at_once):
        for _ in range(6):
            line = line_of(OrderFactory(), quantity=2)

            def work(n, line=line):
                try:
                    if n:
                        set_line(OrderLine.objects.get(pk=line.pk), {"quantity": 3}, by=people.office)
                    else:
                        confirm(Order.objects.get(pk=line.order_id), by=people.office)
                except WrongState:
                    return "refused"
                return "done"

            confirmed, changed = at_once(2, work)
            line.refresh_from_db()
            verbs = [event.verb for event in line.order.events.order_by("pk")]
            assert confirmed == "done"
            assert line.quantity == (3 if changed == "done" else 2)
            assert verbs == (["set-line", "confirm"] if changed == "done" else ["confirm"])
