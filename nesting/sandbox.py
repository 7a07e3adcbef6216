"""Runs one call in a child process with limits on memory, processor and wall time.

Used for what may crash, hang or eat memory: reading files that strangers made, and solvers. The call is named as text
("package.module:function") and imported by the child alone, so this module knows no step. A call is a function
`(request, report) -> answer`; request, answer and what it reports on the way are plain JSON objects. Request and
answers travel as lines of JSON; the child's own standard streams lead nowhere, because libraries chatter on them.

One call costs the start of an interpreter and what the call imports: 20 to 80 ms bare, 0.8 s with Open CASCADE (two
shared cores). Where the call names modules to keep loaded, its child is forked from a process that has them, which
takes 5 ms from the second call on (`nesting.sandbox_warm`, on Linux); should that fail, a fresh child does the work.
On Windows only the wall time is limited, and only the child itself is ended, not what it started.
"""

import json
import math
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import IO

from nesting.errors import BadRecord, BadValue, Cancelled, ChildFailed, NestingError, OutOfMemory, OutOfTime
from nesting.sandbox_answers import Answers, Message
from nesting.sandbox_child import MARK
from nesting.sandbox_warm import ForkedChild, ParentLost, can_fork, parent_for
from nesting.units import Seconds

POLL: Seconds = 0.05
"""How often the parent looks at the clock and asks whether to stop; half of what a person notices."""

GRACE: Seconds = 1.0
"""How long a child may take to end after its pipe closed, and a thread of ours after the child has ended."""

STRAY_ROUNDS = 100
"""How often to look for processes that left the child's group; they may start others while we look."""

CHATTER_SHOWN = 400
"""How many last characters of the child's error stream a message quotes."""

LACK_OF_MEMORY = ("bad_alloc", "MemoryError", "failed to map segment", "Cannot allocate memory")
"""By these words in a child's message or last words a lack of memory is known: C++, Python, loader, system."""

KEPT_ENVIRONMENT = "PATH HOME LANG LC_ALL LC_CTYPE TZ TMPDIR TEMP TMP SYSTEMROOT WINDIR LD_LIBRARY_PATH"
"""What the child gets to see; passwords and addresses of the server are not among it."""


@dataclass(frozen=True)
class Limits:
    """What one call may use. `cpu` counts all its threads together, None means no limit of its own; `memory_mb` is
    address space, which is more than what is really filled.

    Raises:
        BadValue: a limit that is not above 0.
    """

    wall: Seconds
    cpu: Seconds | None = None
    memory_mb: int = 2048

    def __post_init__(self) -> None:
        for name, value in (("wall", self.wall), ("cpu", self.cpu), ("memory_mb", self.memory_mb)):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise BadValue(f"Limits: {name} must be above 0, not {value}.")


def run_in_child(
    call: str,
    request: Message,
    limits: Limits,
    *,
    loaded: tuple[str, ...] = (),
    on_progress: Callable[[Message], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Message:
    """The answer of "package.module:function" to the request, worked out in a child process.

    Blocks until the answer is there; may be called from any thread. `loaded` names slow modules that a process is kept
    with for this and later calls. `on_progress` gets what the call reports, `should_stop` is asked every POLL seconds.
    However it ends, nothing that the call started is left running.

    Raises:
        BadValue: the call is not named as stated, or the call itself raised BadValue or BadRecord.
        Cancelled: `should_stop` said so.
        OutOfTime: wall or processor time ran out; `best` is the last thing reported, or None.
        OutOfMemory: the memory limit was reached, as far as that can be told from how the child ended.
        ChildFailed: it crashed, ended without an answer, or raised anything else; the message says which.
    """
    if call.count(":") != 1:
        raise BadValue(f"run_in_child: a call is named package.module:function, not {call!r}.")
    order = {"call": call, "request": request, "cpu": limits.cpu, "memory_mb": limits.memory_mb, "parent": os.getpid()}
    body = json.dumps(order).encode() + b"\n"
    deadline = time.monotonic() + limits.wall
    for start in (_fork, _start) if loaded and can_fork() else (_start,):
        mark, answers = _new_mark(), Answers()
        with tempfile.TemporaryFile() as chatter, suppress(ParentLost):
            child, said, asked = start(loaded, mark, chatter)
            threads = [
                threading.Thread(target=answers.listen, args=(said,), daemon=True),
                threading.Thread(target=_send, args=(asked, body), daemon=True),
            ]
            code: int | None = None
            try:
                for thread in threads:
                    thread.start()
                _follow(child, answers, limits, deadline, on_progress, should_stop)
            finally:
                code = child.end()
                _kill_strays(mark)
                _close(threads, (said, asked))
            if (news := answers.news()) is not None and on_progress is not None:
                on_progress(news)
            if code is None and answers.final is None:
                raise ParentLost
            return _judge(answers, code or 0, _last_words(chatter), limits)
    raise ChildFailed("No process could be started for it.")


class _FreshChild:
    """A child that is an interpreter of its own."""

    def __init__(self, mark: str, chatter: IO[bytes]) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "nesting.sandbox_child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=chatter,
            env=_environment(mark),
            start_new_session=os.name == "posix",
        )

    def has_ended(self) -> bool:
        """Whether the child has ended. It is not reaped where that can be helped, so that its number stays taken."""
        if hasattr(os, "waitid"):
            with suppress(ChildProcessError):
                return os.waitid(os.P_PID, self.process.pid, os.WEXITED | os.WNOWAIT | os.WNOHANG) is not None
            return True
        return self.process.poll() is not None

    def end(self) -> int | None:
        """Kills what is left of the child and its group, reaps it and gives back its exit code."""
        if os.name == "posix":
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(self.process.pid, signal.SIGKILL)
        else:
            self.process.kill()
        return self.process.wait()


type _Started = tuple[_FreshChild | ForkedChild, IO[bytes], IO[bytes]]
"""A child, the stream of its answers and that of its order."""


def _start(loaded: tuple[str, ...], mark: str, chatter: IO[bytes]) -> _Started:
    child = _FreshChild(mark, chatter)
    assert child.process.stdin is not None  # noqa: S101 - for the type checker: both are pipes, as asked for above
    assert child.process.stdout is not None  # noqa: S101
    return child, child.process.stdout, child.process.stdin


def _fork(loaded: tuple[str, ...], mark: str, chatter: IO[bytes]) -> _Started:
    """Raises ParentLost where there is no process to fork from."""
    own_mark = _new_mark()
    parent = parent_for(loaded, _environment(own_mark), own_mark)
    orders, asked = os.pipe()
    said, answers = os.pipe()
    try:
        child = ForkedChild(parent, mark, orders, answers, chatter)
    except ParentLost:
        os.close(asked)
        os.close(said)
        raise
    finally:
        os.close(orders)
        os.close(answers)
    return child, os.fdopen(said, "rb"), os.fdopen(asked, "wb")


def _new_mark() -> str:
    """Text of one length that no other call has."""
    return os.urandom(16).hex()


def _follow(
    child: _FreshChild | ForkedChild,
    answers: Answers,
    limits: Limits,
    deadline: Seconds,
    on_progress: Callable[[Message], None] | None,
    should_stop: Callable[[], bool] | None,
) -> None:
    """Returns when the child has answered or ended."""
    closed_at: Seconds | None = None
    while True:
        answers.wait(max(0.0, min(POLL, deadline - time.monotonic())))
        if (news := answers.news()) is not None and on_progress is not None:
            on_progress(news)
        if answers.final is not None or child.has_ended():
            return
        if should_stop is not None and should_stop():
            raise Cancelled("Stopped on request before there was an answer.")
        if time.monotonic() >= deadline:
            raise OutOfTime(f"It was not done within {limits.wall:g} s.", answers.newest)
        if answers.closed:
            # It closed its answering pipe but has not ended yet; let it end, so that we can say how.
            closed_at = closed_at or time.monotonic()
            if time.monotonic() - closed_at > GRACE:
                raise ChildFailed("It closed its answering pipe and gave no answer.")
            time.sleep(POLL / 5.0)


def _judge(answers: Answers, code: int, chatter: str, limits: Limits) -> Message:
    """The answer, or the exception that fits how the child ended."""
    said = answers.final
    if said is not None and "answer" in said:
        answer: Message = said["answer"]
        return answer
    if said is not None:
        message = str(said.get("message", ""))
        if said["fault"] == "OutOfTime":
            raise OutOfTime(message, answers.newest)
        kinds: dict[str, type[NestingError]] = {k.__name__: k for k in (BadValue, BadRecord, Cancelled, OutOfMemory)}
        lacking = any(words in message for words in LACK_OF_MEMORY)
        raise kinds.get(said["fault"], OutOfMemory if lacking else ChildFailed)(message)
    quoted = f" Its last words: {chatter}" if chatter else ""
    if -code == getattr(signal, "SIGXCPU", None):
        raise OutOfTime(f"It used up its {limits.cpu or 0.0:g} s of processor time.", answers.newest)
    if code and any(words in chatter for words in LACK_OF_MEMORY):
        raise OutOfMemory(f"It needed more than {limits.memory_mb} MB of memory.")
    if code < 0:
        name = signal.Signals(-code).name if -code in set(signal.Signals) else f"signal {-code}"
        raise ChildFailed(f"It crashed ({name}) and gave no answer.{quoted}")
    raise ChildFailed(f"It ended without an answer (exit code {code}).{quoted}")


def _environment(mark: str) -> dict[str, str]:
    """What the child sees: few variables, and the same modules that we can import."""
    kept = {name: value for name, value in os.environ.items() if name.upper() in KEPT_ENVIRONMENT.split()}
    modules = os.pathsep.join(os.path.abspath(entry) for entry in sys.path)
    return kept | {MARK: mark, "PYTHONPATH": modules, "PYTHONSAFEPATH": "1"}


def _send(stream: IO[bytes], body: bytes) -> None:
    """Writes the request and leaves the stream open, for its end tells the child that we are gone."""
    try:
        stream.write(body)
        stream.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            stream.close()


def _close(threads: Sequence[threading.Thread], streams: Sequence[IO[bytes]]) -> None:
    """Lets the threads end, and closes the stream of each. One that still hangs on its stream keeps it and closes it
    itself: that takes a process which outside Linux got away, or one that is still loading modules before it forks.
    """
    for thread, stream in zip(threads, streams, strict=True):
        if thread.ident is not None:
            thread.join(GRACE)
        if not thread.is_alive():
            with suppress(OSError):
                stream.close()


def _kill_strays(mark: str) -> None:
    """Kills processes of this call that moved to a group of their own. Linux only: elsewhere none is looked for."""
    sought = f"{MARK}={mark}".encode()
    for _ in range(STRAY_ROUNDS if os.path.isdir("/proc/self") else 0):
        found = False
        for number in filter(str.isdigit, os.listdir("/proc")):
            with suppress(OSError), open(f"/proc/{number}/environ", "rb") as environment:
                if sought in environment.read():
                    os.kill(int(number), signal.SIGKILL)
                    found = True
        if not found:
            return
        time.sleep(POLL / 5.0)


def _last_words(chatter: IO[bytes]) -> str:
    """The end of what the child wrote to its error stream, as one line."""
    size = chatter.seek(0, os.SEEK_END)
    chatter.seek(max(0, size - 4 * CHATTER_SHOWN))
    return " ".join(chatter.read().decode(errors="replace").split())[-CHATTER_SHOWN:]
