import math

import pytest

from nesting.errors import BadValue
from nesting.model.bound import StockBound


def test_a_bound_of_nothing_at_all_is_a_bound():
    assert StockBound(0.0, 0, 0.0, 0.0).count == 0


@pytest.mark.parametrize(
    "figures", [(-1.0, 1, 0.0, 0.0), (1.0, -1, 0.0, 0.0), (1.0, 1, math.nan, 0.0), (1.0, 1, 0.0, math.inf)]
)
def test_figures_that_cannot_be_are_refused(figures):
    with pytest.raises(BadValue, match="StockBound"):
        StockBound(*figures)
