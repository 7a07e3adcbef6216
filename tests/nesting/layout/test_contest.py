"""Only a better nest without a fault becomes the best, whoever offers it and however long its check takes."""

import time

import pytest

from nesting.layout.contest import Contest
from nesting.layout.deadline import Deadline
from nesting.layout.score import score_bars
from nesting.model.findings import Finding, Severity
from nesting.model.nest import BarLayout, BarNest, Piece
from tests.shop_parts import bar_job

JOB = bar_job((1000.0, 4))
FAULT = Finding("overlap", Severity.REFUSAL, "Two pieces overlap.")


def nest(count):
    return BarNest(JOB, (BarLayout("bar 0", tuple(Piece("piece 0", 1000.0 * i) for i in range(count))),))


@pytest.fixture
def told():
    return []


def contest(told, check, deadline=None):
    return Contest(BarNest(JOB, ()), deadline or Deadline(60.0), score=score_bars, check=check, report=told.append)


def test_only_what_is_better_is_kept_and_reported(told):
    held = contest(told, lambda _: ())
    assert [held.offer(nest(n)) for n in (2, 1, 2, 3)] == [True] * 4
    assert told == [nest(2), nest(3)]
    assert held.best == nest(3)


def test_what_breaks_a_rule_is_told_and_never_kept(told):
    held = contest(told, lambda each: (FAULT,) if each == nest(3) else ())
    assert held.offer(nest(2))
    assert not held.offer(nest(3))
    assert (held.best, told) == (nest(2), [nest(2)])


def test_a_fault_of_the_checker_itself_is_raised(told):
    def broken(_):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        contest(told, broken).offer(nest(1))


def test_a_check_that_takes_too_long_is_given_up_when_somebody_stops(told):
    def slow(_):
        time.sleep(0.5)
        return ()

    held = contest(told, slow, Deadline(60.0, should_stop=lambda: True))
    assert held.offer(nest(1))
    assert (held.score, told) == (None, [])
