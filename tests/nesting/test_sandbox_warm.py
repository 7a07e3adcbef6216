"""Children that are forked from a process with their modules loaded. What holds for every child is in test_sandbox."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from nesting import sandbox_warm
from nesting.errors import OutOfMemory, OutOfTime
from nesting.sandbox import Limits, run_in_child
from tests.nesting.test_sandbox import CALLS, all_end, is_running, own_children, pids_in

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="children are forked on Linux only")

LIMITS = Limits(wall=20.0, memory_mb=512)
LOADED = ("fractions",)


@pytest.fixture(autouse=True)
def _own_processes(monkeypatch):
    """Each test starts its own process that forks, and leaves none."""
    monkeypatch.syspath_prepend(str(CALLS))
    monkeypatch.setattr(sandbox_warm, "_parents", {})
    monkeypatch.setattr(sandbox_warm, "_avoided", {})
    yield
    sandbox_warm.end_all()


def run(name, request=None, limits=LIMITS, loaded=LOADED, **rest):
    return run_in_child(f"hostile_calls:{name}", request or {}, limits, loaded=loaded, **rest)


def kept():
    return [parent.process.pid for parent in sandbox_warm._parents.values()]


def test_calls_are_forked_from_one_process_that_has_their_modules():
    first, second = run("who", {"module": "fractions"}), run("who", {"module": "fractions"})
    assert first["parent"] == second["parent"] == kept()[0]
    assert first["pid"] != second["pid"]
    assert first["has_module"]
    assert not run_in_child("hostile_calls:who", {"module": "fractions"}, LIMITS)["has_module"]


def test_other_modules_or_search_paths_have_a_process_of_their_own(monkeypatch, tmp_path):
    run("echo")
    run("echo", loaded=("statistics",))
    monkeypatch.syspath_prepend(str(tmp_path))
    run("echo")
    assert len(set(kept())) == 3


def test_when_the_process_that_forks_is_killed_its_children_end_and_a_fresh_one_answers(tmp_path):
    pids = tmp_path / "pids"

    def kill_once():
        if len(pids_in(pids)) == 1 and kept():
            os.kill(kept()[0], signal.SIGKILL)
        return False

    answer = run("sleep_the_first_time", {"pids": str(pids)}, should_stop=kill_once)
    first, second = pids_in(pids)
    assert answer == {"pid": second, "parent": os.getpid()}
    assert all_end([first])
    assert run("who", {"module": "fractions"})["parent"] == kept()[0]


def test_a_process_that_was_killed_between_two_calls_is_started_again():
    run("echo")
    before = kept()
    os.kill(before[0], signal.SIGKILL)
    assert all_end(before)
    assert run("echo", {"a": 1}) == {"a": 1}
    assert run("echo", {"a": 2}) == {"a": 2}
    assert kept() != before
    assert is_running(kept()[0])
    assert own_children() & set(before) == set()


def test_modules_that_cannot_be_loaded_leave_the_work_to_fresh_children(tmp_path, monkeypatch):
    assert run("who", {"module": "math"}, loaded=("no_such_module",))["parent"] == os.getpid()
    assert run("who", {"module": "math"}, loaded=("no_such_module",))["parent"] == os.getpid()
    # Then it is not tried again for a while.
    before = kept()
    assert run("who", {"module": "math"}, loaded=("no_such_module",))["parent"] == os.getpid()
    assert kept() == before


def test_a_process_that_does_not_fork_is_given_up(monkeypatch):
    monkeypatch.setattr(sandbox_warm, "START_WAIT", 0.2)
    run("echo")
    stuck = kept()[0]
    os.kill(stuck, signal.SIGSTOP)
    assert run("who", {"module": "math"})["parent"] == os.getpid()
    assert all_end([stuck])


def test_wall_time_counts_while_modules_are_loaded_and_the_process_is_kept(tmp_path, monkeypatch):
    (tmp_path / "slow_module.py").write_text("import time\ntime.sleep(1.0)\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(OutOfTime, match=r"0\.2 s"):
        run("echo", limits=Limits(wall=0.2), loaded=("slow_module",))
    loading = kept()
    assert run("who", {"module": "slow_module"}, loaded=("slow_module",))["parent"] == loading[0]


def test_a_limit_below_what_is_loaded_is_out_of_memory():
    with pytest.raises(OutOfMemory):
        run("echo", limits=Limits(wall=20.0, memory_mb=2))


def test_a_fork_of_ours_starts_its_own_process_and_leaves_ours_alone():
    run("echo")
    ours = kept()
    reading, writing = os.pipe()
    if (pid := os.fork()) == 0:
        try:
            os.write(writing, b"%d" % run("who", {"module": "math"})["parent"])
            sandbox_warm.end_all()
        finally:
            os._exit(0)
    os.waitpid(pid, 0)
    os.close(writing)
    with os.fdopen(reading) as answer:
        theirs = int(answer.read())
    assert theirs not in (ours[0], os.getpid())
    assert all_end([theirs])
    assert run("who", {"module": "math"})["parent"] == ours[0]


def test_a_process_that_left_its_group_by_forking_alone_does_not_outlive_the_call(tmp_path):
    """Such a one was never started as a program, so the system shows what it was forked with."""
    pids = tmp_path / "pids"
    assert run("leave_a_daemon", {"pids": str(pids)}) == {"ok": True}
    assert len(pids_in(pids)) == 1
    assert all_end(pids_in(pids))
    assert is_running(kept()[0])


@pytest.mark.parametrize("at_rest", [True, False])
def test_the_process_that_forks_ends_with_its_owner(at_rest, tmp_path):
    pids = tmp_path / "pids"
    call = "note_parent" if at_rest else "hold_the_interpreter"
    script = (
        f"import sys, time; sys.path.insert(0, {str(CALLS)!r})\n"
        "from nesting.sandbox import Limits, run_in_child\n"
        f"run_in_child('hostile_calls:{call}', {{'pids': {str(pids)!r}}}, Limits(wall=300.0), loaded=('fractions',))\n"
        "time.sleep(300)\n"
    )
    owner = subprocess.Popen([sys.executable, "-c", script], cwd=Path(__file__).parents[2])
    until = time.monotonic() + 20.0
    while not pids_in(pids) and time.monotonic() < until:
        time.sleep(0.02)
    time.sleep(0.1)
    started = pids_in(pids) + [
        int(pid) for pid in Path(f"/proc/{owner.pid}/task/{owner.pid}/children").read_text().split()
    ]
    owner.send_signal(signal.SIGKILL)
    owner.wait()
    assert len(started) >= 1
    assert all_end(started)


def test_it_ends_when_it_was_not_needed_for_a_while():
    """And its owner, which still holds the socket, then starts another one."""
    short = "import nesting.sandbox_parent as p, sys; p.KEPT_WARM = 0.1; p.main(sys.argv[1:])"
    ours, theirs = sandbox_warm.socket.socketpair()
    with ours, theirs:
        process = subprocess.Popen([sys.executable, "-c", short, str(os.getpid()), "mark"], stdin=theirs.fileno())
        assert process.wait(20.0) == 0
