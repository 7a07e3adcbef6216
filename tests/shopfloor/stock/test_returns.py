import pytest

from nesting.geometry.contour import Contour
from nesting.records.parts import path_to_record
from shopfloor.base.errors import Refused
from shopfloor.stock.models import StockItem
from shopfloor.stock.returns import book_remnant, unbook_remnant
from tests.factories.stock import BarFactory, SheetFactory

pytestmark = pytest.mark.django_db


def test_what_is_left_of_a_sheet_keeps_its_heat_number_and_says_where_it_came_from():
    sheet = SheetFactory(heat_no="A-17", place="rack 3")
    outline = path_to_record(
        Contour(((0, 0, 0), (700, 0, 0), (700, 300, 0), (300, 300, 0), (300, 450, 0), (0, 450, 0)))
    )
    remnant = book_remnant(sheet, length_mm=700.04, width_mm=450, outline=outline, came_from="Nest 7, sheet 1")
    remnant.refresh_from_db()
    assert (remnant.material, remnant.thickness_mm, remnant.kind) == (sheet.material, sheet.thickness_mm, "sheet")
    assert (float(remnant.length_mm), float(remnant.width_mm), remnant.outline) == (700.0, 450.0, outline)
    assert (remnant.on_hand, remnant.reserved, remnant.is_remnant) == (1, 0, True)
    assert (remnant.heat_no, remnant.place, remnant.came_from) == ("A-17", "rack 3", "Nest 7, sheet 1")


def test_what_is_left_of_a_bar_is_a_bar():
    bar = BarFactory(heat_no="B-2")
    remnant = book_remnant(bar, length_mm=1234.5)
    remnant.refresh_from_db()
    assert (remnant.section, remnant.width_mm, float(remnant.length_mm)) == (bar.section, None, 1234.5)
    assert remnant.heat_no == "B-2"


@pytest.mark.parametrize(("left", "booked"), [(700.09, 700.0), (700.0999, 700.1), (699.9999999, 700.0), (700.1, 700.1)])
def test_a_remnant_is_never_booked_larger_than_it_is(left, booked):
    remnant = book_remnant(BarFactory(), length_mm=left)
    assert float(remnant.length_mm) == booked


def test_a_remnant_is_taken_out_again_where_the_cut_is_undone():
    remnant = book_remnant(SheetFactory(), length_mm=600, width_mm=400)
    unbook_remnant(remnant.pk)
    remnant.refresh_from_db()
    assert remnant.on_hand == 0


def test_a_remnant_that_is_promised_or_used_is_not_taken_out():
    remnant = book_remnant(SheetFactory(), length_mm=600, width_mm=400)
    StockItem.objects.filter(pk=remnant.pk).update(reserved=1)
    with pytest.raises(Refused) as refusal:
        unbook_remnant(remnant.pk)
    assert refusal.value.code == "remnant-used"
    StockItem.objects.filter(pk=remnant.pk).update(reserved=0, on_hand=0)
    with pytest.raises(Refused) as refusal:
        unbook_remnant(remnant.pk)
    assert refusal.value.code == "remnant-used"


def test_a_remnant_row_that_was_deleted_is_no_fault():
    remnant = book_remnant(SheetFactory(), length_mm=600, width_mm=400)
    pk = remnant.pk
    remnant.delete()
    unbook_remnant(pk)
