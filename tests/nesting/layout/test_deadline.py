"""Time budgets of a layout."""

import math
import time

import pytest

from nesting.errors import BadValue
from nesting.layout.deadline import Deadline


@pytest.mark.parametrize("budget", [0.0, -1.0, math.nan, math.inf, 86_400.1])
def test_a_budget_that_cannot_be_is_refused(budget):
    with pytest.raises(BadValue, match="budget must be above 0"):
        Deadline(budget)


def test_time_runs_from_when_it_is_built():
    deadline = Deadline(5.0, started_at=time.monotonic() - 3.0)
    assert deadline.elapsed >= 3.0
    assert deadline.remaining <= 2.0
    assert Deadline(5.0, started_at=time.monotonic() - 9.0).remaining == 0.0


def test_it_is_over_when_the_time_is_or_somebody_asks_to_stop():
    assert not Deadline(1000.0).is_over
    assert Deadline(5.0, started_at=time.monotonic() - 9.0).is_over
    assert Deadline(1000.0, should_stop=lambda: True).is_over
