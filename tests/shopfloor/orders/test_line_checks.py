"""What may be stated of an order line. How lines take it is tested in `test_intake.py`."""

from decimal import Decimal

import pytest

from shopfloor.base.errors import BadInput
from shopfloor.orders.line_checks import checked_quantity, checked_thickness
from shopfloor.orders.models import MOST_PIECES


@pytest.mark.parametrize(("value", "quantity"), [("7", 7), (" 7 ", 7), (7, 7), (MOST_PIECES, MOST_PIECES)])
def test_quantities(value, quantity):
    assert checked_quantity(value) == quantity


def test_a_quantity_out_of_bounds_is_told_with_both_numbers():
    with pytest.raises(BadInput, match=r"^The quantity must be 1 to 100 000, not 1 000 000 000\.$"):
        checked_quantity("1000000000")


@pytest.mark.parametrize(
    ("value", "thickness"), [("3", "3.00"), ("1,5", "1.50"), (0.05, "0.05"), ("", None), (None, None)]
)
def test_thicknesses(value, thickness):
    assert checked_thickness(value) == (None if thickness is None else Decimal(thickness))
