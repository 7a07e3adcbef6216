"""Solver runs in children: whatever one does, the engine hears its last word, and no child stays behind."""

import time

import pytest

from nesting.layout.solvers import Solvers

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fake_engines")]

GOOD = {"width_mm": 1.0}
PATIENCE = 60.0


def heard(solvers):
    """All that is said until nothing runs any more."""
    said = []
    until = time.monotonic() + PATIENCE
    while solvers.running and time.monotonic() < until:
        said += solvers.wait(0.2)
    assert not solvers.running
    return said


def test_an_answer_is_the_last_word():
    with Solvers() as solvers:
        run = solvers.start("fake_engines:answer", {"good": GOOD, "answer": {"x": 2}}, PATIENCE, "why")
        assert solvers.free == 1
        said = heard(solvers)
    assert all(each.run is run and each.run.purpose == "why" for each in said)
    assert [(each.record, each.is_last) for each in said] == [(GOOD, False), ({"x": 2}, True)]


@pytest.mark.parametrize("name", ["crash", "panic", "no_such_engine"])
def test_a_run_that_fails_says_so_and_what_it_reported_is_kept(name):
    with Solvers() as solvers:
        solvers.start(f"fake_engines:{name}", {"good": GOOD}, PATIENCE, None)
        said = heard(solvers)
    assert said[-1].is_last
    assert said[-1].record is None
    assert [each.record for each in said[:-1]] == ([] if name == "no_such_engine" else [GOOD])


def test_a_run_that_hangs_is_ended_after_its_time_with_its_last_report():
    with Solvers() as solvers:
        solvers.start("fake_engines:hang", {"good": GOOD}, 5.0, None)
        said = heard(solvers)
    assert said[-1].is_last
    # On a machine so slow that it could not report in its time it has nothing to say.
    assert said[-1].record in (GOOD, None)


def test_a_run_can_be_stopped():
    with Solvers() as solvers:
        run = solvers.start("fake_engines:hang", {}, 10.0 * PATIENCE, None)
        run.stop()
        [said] = heard(solvers)
    assert said.is_last
    assert said.record is None


def test_at_the_end_of_the_block_nothing_runs_any_more():
    with Solvers() as solvers:
        run = solvers.start("fake_engines:hang", {}, 10.0 * PATIENCE, None)
    run.thread.join(PATIENCE)
    assert not run.thread.is_alive()
