"""What sheets are seen to take."""

import pytest

from nesting.layout.fill_seen import LEAST, MOST, USUAL, FillSeen


def test_before_any_run_the_usual_share_is_expected():
    assert FillSeen().expected(1.0) == pytest.approx(USUAL)


def test_longer_runs_are_expected_to_take_more_but_not_without_end():
    seen = FillSeen()
    shares = [seen.expected(seconds) for seconds in (1.0, 3.0, 10.0, 20.0)]
    assert shares == sorted(set(shares))
    assert seen.expected(500.0) == seen.expected(20.0)


def test_what_is_seen_again_and_again_is_expected():
    seen = FillSeen()
    for _ in range(20):
        seen.learn(0.7, 1.0, 5.0)
    assert seen.expected(5.0) == pytest.approx(0.7, abs=1e-6)


def test_one_run_does_not_decide_alone():
    seen = FillSeen()
    seen.learn(0.7, 1.0, 1.0)
    assert 0.7 < seen.expected(1.0) < USUAL


def test_nonsense_stays_within_bounds():
    seen = FillSeen()
    for bulk in (0.0, 9.0):
        for _ in range(30):
            seen.learn(bulk, 1.0, 1.0)
        assert LEAST - 1e-9 <= seen.expected(1.0) <= MOST
