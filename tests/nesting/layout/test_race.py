"""The race of constructions: children that crash, hang, panic or lie lose nothing and hold up nobody."""

import threading
import time

import pytest

from nesting.layout.deadline import Deadline
from nesting.layout.engine import Construction
from nesting.layout.race import race
from tests.shop_parts import sheet_job, square

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fake_engines")]

JOB = sheet_job((square("a", 100.0), 2))


def layout(x, *, finished=True):
    place = {"part": "a", "x_mm": x, "y_mm": 10.0, "turn_deg": 0.0, "mirrored": False}
    return {"layouts": [{"stock": "1000x500", "copies": 1, "placements": [place]}], "finished": finished}


def engine(name, **options):
    return Construction(name, f"fake_engines:{name}", options)


class Judge:
    """Notes what it is given and refuses what is laid at 0."""

    def __init__(self):
        self.given = []
        self.threads = set()

    def __call__(self, construction, record):
        x = record["layouts"][0]["placements"][0].get("x_mm")
        self.given.append((construction.name, x))
        self.threads.add(threading.current_thread())
        return x != 0.0


def test_an_answer_is_judged_in_the_callers_thread():
    judge = Judge()
    assert not race([engine("answer", answer=layout(10.0))], JOB, Deadline(20.0), judge)
    assert judge.given == [("answer", 10.0)]
    assert judge.threads == {threading.current_thread()}


def test_an_engine_that_did_not_finish_was_cut_short():
    assert race([engine("answer", answer=layout(10.0, finished=False))], JOB, Deadline(20.0), Judge())


@pytest.mark.parametrize("name", ["crash", "panic", "nonsense", "eat_memory"])
def test_what_a_failing_engine_reported_before_is_kept_and_the_others_go_on(name):
    judge = Judge()
    engines = [engine(name, good=layout(20.0)), engine("answer", answer=layout(10.0))]
    race(engines, JOB, Deadline(60.0), judge)
    assert (name, 20.0) in judge.given
    assert ("answer", 10.0) in judge.given


def test_a_hanging_engine_ends_with_the_time():
    judge, deadline = Judge(), Deadline(2.0)
    assert race([engine("hang", good=layout(20.0)), engine("answer", answer=layout(10.0))], JOB, deadline, judge)
    assert deadline.elapsed < 3.0
    assert set(judge.given) == {("hang", 20.0), ("answer", 10.0)}


def test_a_hanging_engine_ends_when_somebody_stops():
    stop = threading.Event()
    threading.Timer(1.0, stop.set).start()
    started_at = time.monotonic()
    assert race([engine("hang")], JOB, Deadline(60.0, 0, stop.is_set), Judge())
    assert time.monotonic() - started_at < 2.0


def test_a_race_ends_as_soon_as_nothing_better_can_come():
    judge, deadline = Judge(), Deadline(60.0)
    race([engine("hang", good=layout(20.0))], JOB, deadline, judge, is_done=lambda: bool(judge.given))
    assert deadline.elapsed < 10.0


def test_an_engine_that_breaks_the_rules_tries_again_with_a_larger_gap():
    judge = Judge()
    assert not race(
        [engine("break_rules_until_gap_grows", bad=layout(0.0), answer=layout(10.0))], JOB, Deadline(60.0), judge
    )
    assert [x for _, x in judge.given] == [0.0, 10.0]


def test_an_engine_that_always_breaks_the_rules_is_given_up():
    judge = Judge()
    race([engine("always_break_rules", bad=layout(0.0))], JOB, Deadline(60.0), judge)
    assert [x for _, x in judge.given] == [0.0, 0.0, 0.0]


def test_constructions_that_wait_start_when_others_end():
    judge = Judge()
    race([engine("answer", answer=layout(float(x))) for x in (1, 2, 3)], JOB, Deadline(60.0), judge, at_once=1)
    assert [x for _, x in judge.given] == [1.0, 2.0, 3.0]


def test_a_race_without_time_starts_nothing_and_says_so():
    deadline = Deadline(1e-3)
    time.sleep(0.01)
    assert race([engine("answer", answer=layout(10.0))], JOB, deadline, Judge())


def test_a_race_of_nobody_is_over_at_once():
    assert not race([], JOB, Deadline(20.0), Judge())


def test_an_exception_of_the_judge_stops_every_child():
    def judge(construction, record):
        raise RuntimeError("the disk is full")

    deadline = Deadline(60.0)
    with pytest.raises(RuntimeError, match="the disk is full"):
        race([engine("hang", good=layout(20.0)), engine("hang")], JOB, deadline, judge)
    assert deadline.elapsed < 10.0
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("race-")]
