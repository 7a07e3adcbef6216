import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from shopfloor.orders.models import LineEvent, OrderFile, OrderLine
from shopfloor.orders.progress import OPEN, Shift, report
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory, line_of
from tests.factories.parts import sheet_part, tube_part

pytestmark = pytest.mark.django_db


def test_a_part_stands_once_in_an_order():
    line = line_of(OrderFactory())
    with pytest.raises(IntegrityError), transaction.atomic():
        line_of(line.order, line.part)
    line_of(OrderFactory(), line.part)


def test_a_drawing_stands_once_in_an_order():
    line = line_of(OrderFactory())
    with pytest.raises(IntegrityError), transaction.atomic():
        OrderFile.objects.create(order=line.order, drawing=line.part.drawing)


def test_a_ledger_row_counts_at_least_one_piece():
    with pytest.raises(IntegrityError, match="a_line_event_counts_pieces"), transaction.atomic():
        LineEvent.objects.create(line=line_of(OrderFactory()), to_step="planned", count=0)


def test_what_happened_to_a_line_cannot_be_deleted_with_it():
    line = line_of(ConfirmedOrderFactory())
    report([Shift(line.pk, OPEN, "planned", 1)], by=None)
    for row in (line, line.file, line.order):
        with pytest.raises(ProtectedError), transaction.atomic():
            row.delete()
    assert OrderLine.objects.exists()


def test_a_line_says_what_it_lacks():
    sheet, tube = OrderLine(part=sheet_part()), OrderLine(section=tube_part().section)
    assert sheet.missing == ["material", "thickness"]
    assert tube.missing == ["material"]
    assert line_of(OrderFactory()).missing == []


def test_they_say_what_they_are():
    line = line_of(OrderFactory(pk=42), quantity=3)
    assert str(line.order) == "Order 0042"
    assert str(line) == f"3 x {line.part.name}"
    assert str(line.file) == line.part.drawing.name
    assert str(LineEvent(count=2, from_step="cut", to_step="")) == "2 cut to open"
