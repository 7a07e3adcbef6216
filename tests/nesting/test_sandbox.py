import gc
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from nesting import sandbox_warm
from nesting.errors import BadRecord, BadValue, Cancelled, ChildFailed, OutOfMemory, OutOfTime
from nesting.sandbox import Limits, run_in_child

LIMITS = Limits(wall=20.0, memory_mb=512)
RUN_BY_THE_SANDBOX = ("(listen)", "(_send)")
"""How Python names the threads of a call."""

CALLS = Path(__file__).parent / "sandbox_calls"


KEPT_LOADED = ("fractions", "nesting.units")
"""Modules that the process keeps loaded from which children are forked here."""

LOADED = {"fresh": (), "forked": KEPT_LOADED}
how = {"loaded": ()}
"""How `run` has its child made; set for each test."""


@pytest.fixture(autouse=True, params=list(LOADED))
def _way(request, monkeypatch):
    """Every test twice: with children that are interpreters of their own, and with forked ones."""
    monkeypatch.setitem(how, "loaded", LOADED[request.param])
    monkeypatch.syspath_prepend(str(CALLS))


@pytest.fixture(scope="module", autouse=True)
def _no_process_is_kept():
    yield
    sandbox_warm.end_all()


def run(name, request=None, limits=LIMITS, **rest):
    return run_in_child(f"hostile_calls:{name}", request or {}, limits, **how, **rest)


def is_running(pid):
    """Whether a process is there and is more than a zombie that somebody else has to reap."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def all_end(pids, within=5.0):
    until = time.monotonic() + within
    while any(is_running(pid) for pid in pids) and time.monotonic() < until:
        time.sleep(0.02)
    return [pid for pid in pids if is_running(pid)] == []


def pids_in(path):
    return [int(line) for line in path.read_text().split()] if path.exists() else []


def open_pipes_and_files():
    """Pipes and temporary files of this process, by what they are and not by their number, which is used again."""
    gc.collect()
    found = set()
    for number in os.listdir("/proc/self/fd"):
        try:
            target = os.readlink(f"/proc/self/fd/{number}")
        except OSError:
            continue
        if target.startswith("pipe:") or target.endswith("(deleted)"):
            found.add(target)
    return found


def own_children():
    """Processes that any thread of ours has started, those among them that have ended but were not reaped too."""
    found = set()
    for number in filter(str.isdigit, os.listdir("/proc")):
        try:
            _, parent = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[:2]
        except OSError:
            continue
        if int(parent) == os.getpid():
            found.add(int(number))
    return found


@pytest.fixture
def leaves_nothing():
    """A block after which there is nothing that was not there before it. Other tests in this process have children,
    pipes and threads of their own, such as a browser's driver and a server; those may be there, and may go.
    """

    @contextmanager
    def watch():
        run("echo")
        pipes, children, threads = open_pipes_and_files(), own_children(), set(threading.enumerate())
        yield
        assert own_children() - children == set()
        assert open_pipes_and_files() - pipes == set()
        ours = {thread for thread in set(threading.enumerate()) - threads if thread.name.endswith(RUN_BY_THE_SANDBOX)}
        assert ours == set()

    return watch


def test_the_answer_comes_back_as_it_was_given():
    request = {"name": "gate – ø 40\udc80", "sizes": [1.5, -0.0, 1e300], "none": None, "deep": {"a": [{}]}}
    assert run("echo", request) == request


def test_a_large_request_and_a_large_answer_pass():
    text = "x" * (3 * 2**20)
    assert run("echo", {"text": text}) == {"text": text}
    assert len(run("answer_mb", {"mb": 20})["text"]) == 20 * 2**20


def test_progress_arrives_in_order_and_the_last_is_not_lost():
    seen = []
    assert run("count", {"to": 5, "pause": 0.03}, on_progress=seen.append) == {"done": True}
    numbers = [news["i"] for news in seen]
    assert numbers == sorted(numbers)
    assert numbers[-1] == 4


def test_a_flood_of_progress_is_thinned_out_not_stored():
    seen = []
    assert run("count", {"to": 5_000, "pause": 0}, on_progress=seen.append) == {"done": True}
    assert seen[-1] == {"i": 4_999}


def test_wall_time_ends_it_and_the_best_so_far_is_kept():
    with pytest.raises(OutOfTime, match=r"not done within 0\.5 s") as caught:
        run("report_then_sleep", limits=Limits(wall=0.5))
    assert caught.value.best == {"best": 7}


@pytest.mark.slow
def test_processor_time_ends_it_and_the_best_so_far_is_kept():
    with pytest.raises(OutOfTime, match="processor time") as caught:
        run("spin", limits=Limits(wall=30.0, cpu=1.0))
    assert caught.value.best == {"best": 3}


def test_memory_is_limited():
    with pytest.raises(OutOfMemory, match="memory"):
        run("eat_memory")


def test_a_library_that_aborts_for_lack_of_memory_counts_as_out_of_memory():
    with pytest.raises(OutOfMemory, match="512 MB"):
        run("abort_as_a_library_out_of_memory")


def test_a_crash_names_the_signal_and_quotes_the_last_words():
    with pytest.raises(ChildFailed, match=r"SIGSEGV.*kernel: bad shape"):
        run("crash")


def test_an_end_without_an_answer_names_the_exit_code():
    with pytest.raises(ChildFailed, match="exit code 3"):
        run("leave")


def test_a_bad_value_in_the_call_comes_back_as_one():
    with pytest.raises(BadValue, match=r"^Section: a wall of 9 mm is too thick\.$"):
        run("raise_bad_value")
    with pytest.raises(BadRecord, match=r"job\.parts\[3\]"):
        run("raise_bad_record")


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("raise_other", "RuntimeError: no such face"),
        ("recurse", "RecursionError"),
        ("answer_what_is_not_json", "not JSON serializable"),
        ("answer_nothing", "without an answer"),
        ("no_such_call", "no attribute 'no_such_call'"),
    ],
)
def test_any_other_fault_in_the_call_is_told(name, message):
    with pytest.raises(ChildFailed, match=message):
        run(name)


def test_a_call_must_be_named_rightly():
    with pytest.raises(BadValue, match=r"package\.module:function"):
        run_in_child("hostile_calls.echo", {}, LIMITS, **how)
    with pytest.raises(ChildFailed, match="No module named 'no_such_module'"):
        run_in_child("no_such_module:echo", {}, LIMITS, **how)


@pytest.mark.parametrize("wrong", [{"wall": 0.0}, {"wall": -1.0}, {"wall": float("nan")}, {"wall": 1.0, "cpu": 0.0}])
def test_limits_must_be_above_zero(wrong):
    with pytest.raises(BadValue, match="must be above 0"):
        Limits(**wrong)


def test_what_the_call_prints_does_not_disturb_the_answer(capfd):
    assert run("chatter") == {"stdin": "", "ok": True}
    assert capfd.readouterr() == ("", "")


def test_garbage_in_the_answering_pipe_is_passed_over():
    assert run("write_garbage_to_every_pipe") == {"ok": True}


@pytest.mark.slow
def test_a_child_that_closes_its_pipes_is_given_up():
    with pytest.raises(ChildFailed, match="closed its answering pipe"):
        run("close_every_pipe")


@pytest.mark.slow
def test_an_answer_over_the_cap_is_refused_by_the_child_and_by_us():
    with pytest.raises(ChildFailed, match="over 256 MB"):
        run("answer_mb", {"mb": 257}, Limits(wall=60.0, memory_mb=4096))
    with pytest.raises(ChildFailed, match="over 256 MB"):
        run("answer_without_end", limits=Limits(wall=60.0))
    with pytest.raises(ChildFailed, match="SIGSEGV"):  # our own size then says nothing about the child's memory
        run("crash")


def test_the_child_cannot_fill_the_disk(tmp_path):
    target = tmp_path / "large"
    with pytest.raises(ChildFailed, match="too large"):
        run("write_a_large_file", {"path": str(target)})
    assert target.stat().st_size <= 16 * 2**20


def test_the_child_sees_none_of_the_servers_secrets(monkeypatch):
    monkeypatch.setenv("DATABASE_PASSWORD", "quillmarsh")
    assert "DATABASE_PASSWORD" not in run("see")["environment"]


def test_a_stop_on_request_ends_it_soon():
    stop = threading.Event()
    threading.Timer(0.2, stop.set).start()
    with pytest.raises(Cancelled):
        run("report_then_sleep", should_stop=stop.is_set)


def test_an_exception_in_our_own_progress_call_ends_the_child(leaves_nothing):
    def refuse(news):
        raise ZeroDivisionError

    with leaves_nothing(), pytest.raises(ZeroDivisionError):
        run("report_then_sleep", on_progress=refuse)


def test_a_child_that_ignores_the_request_to_end_is_ended_all_the_same(tmp_path):
    pids = tmp_path / "pids"
    with pytest.raises(OutOfTime):
        run("ignore_the_request_to_end", {"pids": str(pids)}, Limits(wall=0.6))
    assert len(pids_in(pids)) == 1
    assert all_end(pids_in(pids))


@pytest.mark.parametrize(
    ("then", "outcome"), [("answer", None), ("crash", ChildFailed), ("hang", OutOfTime), ("hang", Cancelled)]
)
def test_no_process_that_the_call_started_outlives_it(then, outcome, tmp_path):
    pids = tmp_path / "pids"
    request = {"pids": str(pids), "then": then}
    if outcome is None:
        assert run("start_others", request) == {"ok": True}
    else:
        stop = (lambda: len(pids_in(pids)) == 4) if outcome is Cancelled else None
        with pytest.raises(outcome):
            run("start_others", request, Limits(wall=30.0 if outcome is not OutOfTime else 0.8), should_stop=stop)
    assert len(pids_in(pids)) == 4
    assert all_end(pids_in(pids))


def test_calls_from_several_threads_keep_apart_and_leave_nothing_open(leaves_nothing):
    answers = {}

    def work(i):
        for k in range(3):
            answers[i, k] = run("echo", {"i": i, "k": k})

    threads = [threading.Thread(target=work, args=(i,)) for i in range(4)]
    with leaves_nothing():
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert answers == {(i, k): {"i": i, "k": k} for i in range(4) for k in range(3)}


@pytest.mark.parametrize("name", ["crash", "leave", "raise_other", "close_every_pipe", "report_then_sleep"])
def test_a_failed_call_leaves_nothing_open(name, leaves_nothing):
    with leaves_nothing(), pytest.raises(ChildFailed):
        run(name, limits=Limits(wall=0.4))


@pytest.mark.parametrize("name", ["ignore_the_request_to_end", "hold_the_interpreter"])
def test_the_child_ends_when_its_parent_is_killed(name, tmp_path):
    pids = tmp_path / "pids"
    script = (
        f"import sys; sys.path.insert(0, {str(CALLS)!r})\n"
        "from nesting.sandbox import Limits, run_in_child\n"
        f"request, loaded = {{'pids': {str(pids)!r}}}, {how['loaded']!r}\n"
        f"run_in_child('hostile_calls:{name}', request, Limits(wall=300.0), loaded=loaded)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", script], cwd=Path(__file__).parents[2])
    until = time.monotonic() + 20.0
    while not pids_in(pids) and time.monotonic() < until:
        time.sleep(0.02)
    assert pids_in(pids)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    assert all_end(pids_in(pids))
