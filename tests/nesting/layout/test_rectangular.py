"""Which jobs count as jobs of rectangles."""

import pytest

from nesting.layout.rectangular import are_rectangles
from tests.shop_parts import angle, flange, frame, plate, rectangle, sheet_job, square


@pytest.mark.parametrize(
    ("job", "answer"),
    [
        (sheet_job((square("a", 100.0), 3), (rectangle("b", 20.0, 300.0), 1)), True),
        (sheet_job((plate("base", 180.0, 120.0), 3)), True),
        (sheet_job((square("a", 100.0), 3), turns="any"), True),
        (sheet_job((square("a", 100.0), 3), turns=(45.0,)), False),
        (sheet_job((square("a", 100.0), 3), (flange("f", 160.0, 60.0), 1)), False),
        (sheet_job((angle("l", 200.0, 200.0, 50.0), 1)), False),
        (sheet_job((frame("window", 400.0, 300.0, 40.0), 2)), True),
        (sheet_job((frame("window", 400.0, 300.0, 40.0), 2), (square("cover", 211.0), 1)), True),
        (sheet_job((frame("window", 400.0, 300.0, 40.0), 2), (square("cover", 210.0), 1)), False),
        (sheet_job((square("a", 100.0), 0)), False),
    ],
)
def test_rectangles_are_parts_that_fill_their_bounds_and_hold_no_other(job, answer):
    # The windows of 320 x 220 mm hold squares of up to 210 with a gap of 5 all round, but no frame.
    assert are_rectangles(job) == answer
