"""The note that a worker is at work."""

import os
import time

import pytest

from shopfloor.base.leases import _chores
from shopfloor.base.worker_seen import mark_worker_seen, worker_seen_s


@pytest.fixture(autouse=True)
def folder(tmp_path, settings):
    settings.DATA_DIR = tmp_path
    return tmp_path


def test_before_any_worker_ran_none_was_seen():
    assert worker_seen_s() is None


def test_a_worker_at_work_was_seen_now(folder):
    mark_worker_seen()
    an_hour_ago = time.time() - 3600
    os.utime(folder / "worker-seen", (an_hour_ago, an_hour_ago))
    assert worker_seen_s() == pytest.approx(3600, abs=30)
    mark_worker_seen()
    assert worker_seen_s() < 30


def test_a_clock_that_was_set_back_gives_no_time_below_zero(folder):
    mark_worker_seen()
    later = time.time() + 3600
    os.utime(folder / "worker-seen", (later, later))
    assert worker_seen_s() == 0.0


def test_the_sweep_marks_it():
    assert mark_worker_seen in [chore.work for chore in _chores]
