"""The child's side of `nesting.sandbox`: takes one order, answers it, and ends.

Started as `python -m nesting.sandbox_child`, or forked by `nesting.sandbox_parent`, and never imported by a step. It
imports little before its limits are set, and the module of the call only after that. The order is one line of JSON;
every answer is one line too, on a pipe that nothing else writes to: {"news": ...}, {"answer": ...} or {"fault": kind,
"message": ...}.
"""

import importlib
import json
import math
import os
import sys
import threading
from contextlib import suppress
from typing import Any, NoReturn

from nesting.errors import ChildFailed, NestingError
from nesting.units import Seconds

LARGEST_ANSWER = 256 * 2**20
"""Bytes of one answer. A nest of ten thousand parts is some 2 MB; more than this is a fault, not an answer."""

LARGEST_FILE = 16 * 2**20
"""Bytes that the child may write to any one file; it needs none but the chatter it leaves on its error stream."""

MARK = "NESTING_SANDBOX_CALL"
"""Environment variable by which a process that left the child's group is still known as belonging to the call."""

NO_MEMORY = b'{"fault": "OutOfMemory", "message": "It needed more memory than it may have."}\n'


def main() -> NoReturn:
    """Answers the order on standard input."""
    orders, answers = os.dup(0), os.dup(1)
    silence()
    answer_one_call(orders, answers, None)


def silence() -> None:
    """Lets standard input and output lead nowhere."""
    null = os.open(os.devnull, os.O_RDWR)
    os.dup2(null, 0)
    os.dup2(null, 1)
    if null > 1:
        os.close(null)


def answer_one_call(orders: int, answers: int, parent: int | None) -> NoReturn:
    """Takes one order from a pipe, answers it on another and ends the process.

    `parent` is the process that this one was forked from, None where that is the one that sent the order.
    """
    order = json.loads(_read_order(orders))
    _die_with_parent(order["parent"] if parent is None else parent, orders)
    _set_limits(order["memory_mb"], order["cpu"])
    writing = threading.Lock()

    def say(message: dict[str, Any]) -> None:
        line = memoryview(json.dumps(message).encode() + b"\n")
        if len(line) > LARGEST_ANSWER:
            raise ChildFailed(f"Its answer of {len(line) // 2**20} MB is over {LARGEST_ANSWER // 2**20} MB.")
        with writing:
            while line:
                line = line[os.write(answers, line) :]

    try:
        if parent is not None and _memory_mb() > order["memory_mb"]:
            # What was loaded before the fork counts too: a limit below it stops only what is yet to come.
            raise MemoryError
        module, name = order["call"].split(":")
        function = getattr(importlib.import_module(module), name)
        say({"answer": function(order["request"], lambda news: say({"news": news}))})
    except MemoryError:
        os.write(answers, NO_MEMORY)
    except BaseException as fault:  # whatever it is: the parent hears of it, and this process ends
        kind = type(fault).__name__
        say({"fault": kind, "message": str(fault) if isinstance(fault, NestingError) else f"{kind}: {fault}"})
    # Without the usual tidying: the libraries' own end is slow and sometimes crashes, and all has been said.
    os._exit(0)


def _read_order(stream: int) -> bytes:
    order = bytearray()
    while not order.endswith(b"\n"):
        part = os.read(stream, 2**20)
        if not part:
            os._exit(1)
        order += part
    return bytes(order)


def _die_with_parent(parent: int, stream: int) -> None:
    """Sees to it that this process ends when the parent does: the kernel kills it on Linux; a thread that waits for
    the end of the order stream does so everywhere, but only while the call lets other threads run.
    """
    if sys.platform == "linux":
        import ctypes
        import signal

        set_parent_death_signal = 1  # PR_SET_PDEATHSIG in <linux/prctl.h>
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(set_parent_death_signal, int(signal.SIGKILL), 0, 0, 0)
        if os.getppid() != parent:
            os._exit(1)

    def watch() -> None:
        while os.read(stream, 4096):
            pass
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _set_limits(memory_mb: int, cpu: Seconds | None) -> None:
    try:
        import resource
    except ImportError:  # Windows
        return
    wanted = {"RLIMIT_AS": memory_mb * 2**20, "RLIMIT_CORE": 0, "RLIMIT_FSIZE": LARGEST_FILE}
    if cpu is not None:
        wanted["RLIMIT_CPU"] = math.ceil(cpu)
    for name, value in wanted.items():
        kind = getattr(resource, name, None)
        if kind is None:
            continue
        _, hard = resource.getrlimit(kind)
        allowed = value if hard == resource.RLIM_INFINITY else min(value, hard)
        with suppress(ValueError, OSError):  # some systems know a limit by name only
            resource.setrlimit(kind, (allowed, hard))


def _memory_mb() -> float:
    """Address space of this process, 0 where it cannot be told."""
    with suppress(OSError, ValueError, IndexError), open("/proc/self/statm", encoding="ascii") as sizes:
        return int(sizes.read().split()[0]) * os.sysconf("SC_PAGE_SIZE") / 2**20
    return 0.0


if __name__ == "__main__":
    main()
