import math

import pytest

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model.stock import Bar, Sheet


def test_a_plain_sheet_lies_with_its_width_along_x():
    bounds = Sheet.rectangle("2500x1250", 2500, 1250).outline.bounds
    assert (bounds.left, bounds.bottom, bounds.right, bounds.top) == (0, 0, 2500, 1250)


def test_what_costs_nothing_stated_costs_its_size():
    assert Sheet.rectangle("s", 2000, 1000).price == 2e6
    assert Sheet.rectangle("s", 2000, 1000, cost=0.0).price == 0.0
    assert Bar("b", 6000).price == 6000
    assert Bar("b", 6000, cost=1.5).price == 1.5


def test_the_outline_of_a_remnant_runs_anticlockwise():
    outline = Contour(((0, 0, 0), (0, 800, 0), (300, 800, 0), (900, 400, 0), (900, 0, 0)))
    assert Sheet("remnant 7", outline, is_remnant=True).outline.is_anticlockwise


@pytest.mark.parametrize("size", [(0, 5), (5, 0), (-1, 5), (math.nan, 5), (5, math.inf)])
def test_a_sheet_has_a_size(size):
    with pytest.raises(BadValue, match="Sheet s: width and height must be above 0"):
        Sheet.rectangle("s", *size)


@pytest.mark.parametrize("length", [0, -1, math.nan, math.inf])
def test_a_bar_has_a_length(length):
    with pytest.raises(BadValue, match="Bar b: the length must be above 0"):
        Bar("b", length)


def test_stock_has_a_name_a_count_and_a_cost_that_can_be():
    with pytest.raises(BadValue, match="Sheet: the name is empty"):
        Sheet.rectangle("", 1, 1)
    with pytest.raises(BadValue, match="Bar: the name is empty"):
        Bar("", 1)
    with pytest.raises(BadValue, match="Bar b: the count cannot be negative"):
        Bar("b", 1, -1)
    with pytest.raises(BadValue, match="Sheet s: the cost must be 0 or more"):
        Sheet.rectangle("s", 1, 1, cost=math.nan)


def test_a_count_of_none_left_is_allowed():
    assert Bar("b", 1, 0).count == 0
