"""Calls for the sandbox's tests: good ones, and one for each way in which a call can go wrong."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

from nesting.errors import BadRecord, BadValue

SLEEP = "import time; time.sleep(600)"


def echo(request, report):
    return request


def count(request, report):
    for i in range(request["to"]):
        report({"i": i})
        time.sleep(request["pause"])
    return {"done": True}


def report_then_sleep(request, report):
    report({"best": 7})
    time.sleep(600)


def spin(request, report):
    report({"best": 3})
    while True:
        pass


def hold_the_interpreter(request, report):
    """One long step of C code during which no other Python thread runs, as a geometry kernel does it."""
    note_pid(request)
    return {"found": bool(sum(range(10**12)))}


def eat_memory(request, report):
    return {"size": len(bytearray(8 * 2**30))}


def abort_as_a_library_out_of_memory(request, report):
    os.write(2, b"terminate called after throwing an instance of 'std::bad_alloc'\n")
    os.abort()


def crash(request, report):
    os.write(2, b"kernel: bad shape\n")
    os.kill(os.getpid(), signal.SIGSEGV)
    time.sleep(600)


def leave(request, report):
    os._exit(3)


def raise_bad_value(request, report):
    raise BadValue("Section: a wall of 9 mm is too thick.")


def raise_bad_record(request, report):
    raise BadRecord("job.parts[3]: no name.")


def raise_other(request, report):
    raise RuntimeError("no such face")


def recurse(request, report):
    return recurse(request, report)


def answer_nothing(request, report):
    return None


def answer_what_is_not_json(request, report):
    return {"answer": object()}


def chatter(request, report):
    print("x" * 1000)
    sys.stdout.flush()
    os.write(1, b"garbage\xff\n" * 20_000)
    os.write(2, b"warning\n" * 1000)
    return {"stdin": sys.stdin.read(), "ok": True}


def write_garbage_to_every_pipe(request, report):
    for number in range(64):
        try:
            os.write(number, b'\xff\xfe garbage\n{"news": 3}\n[1]\n' + b"[" * 100_000 + b"\n")
        except OSError:
            continue
    return {"ok": True}


def close_every_pipe(request, report):
    os.closerange(0, 64)
    time.sleep(600)


def answer_mb(request, report):
    return {"text": "x" * (request["mb"] * 2**20)}


def answer_without_end(request, report):
    line = b"x" * 2**20
    while True:
        for number in range(3, 16):
            try:
                os.write(number, line)
            except OSError:
                continue


def write_a_large_file(request, report):
    with Path(request["path"]).open("wb") as file:
        for _ in range(64):
            file.write(bytes(2**20))
    return {}


def note_pid(request, pid=None):
    with Path(request["pids"]).open("a") as file:
        file.write(f"{pid or os.getpid()}\n")


def ignore_the_request_to_end(request, report):
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    note_pid(request)
    time.sleep(600)


def start_others(request, report):
    """Leaves three others behind: a fork, a process of the same group, and one that starts a session of its own."""
    if (pid := os.fork()) == 0:
        time.sleep(600)
    note_pid(request, pid)
    for own_session in (False, True):
        other = subprocess.Popen([sys.executable, "-c", SLEEP], start_new_session=own_session)
        note_pid(request, other.pid)
    note_pid(request)
    if request["then"] == "hang":
        time.sleep(600)
    if request["then"] == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
        time.sleep(600)
    return {"ok": True}


def see(request, report):
    return {"environment": sorted(os.environ), "safe_path": sys.flags.safe_path, "threads": threading.active_count()}


def who(request, report):
    return {"pid": os.getpid(), "parent": os.getppid(), "has_module": request["module"] in sys.modules}


def note_parent(request, report):
    note_pid(request, os.getppid())
    return {}


def sleep_the_first_time(request, report):
    note_pid(request)
    if len(Path(request["pids"]).read_text().split()) == 1:
        time.sleep(600)
    return {"pid": os.getpid(), "parent": os.getppid()}


def leave_a_daemon(request, report):
    """One that was forked twice and has a session of its own."""
    if (pid := os.fork()) == 0:
        os.setsid()
        if os.fork() == 0:
            note_pid(request)
            time.sleep(600)
        os._exit(0)
    os.waitpid(pid, 0)
    while not Path(request["pids"]).exists():
        time.sleep(0.01)
    return {"ok": True}
