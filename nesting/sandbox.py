"""Runs one call in a child process with limits on memory, processor and wall time.

Used for what may crash, hang or eat memory: reading files that strangers made, and solvers. The call is named as text
("package.module:function") and imported by the child alone, so this module knows no step. A call is a function
`(request, report) -> answer`; request, answer and what it reports on the way are plain JSON objects. Request and
answers travel as lines of JSON; the child's own standard streams lead nowhere, because libraries chatter on them.

One call costs the start of an interpreter and what the call imports: 20 to 80 ms bare, 0.8 s with Open CASCADE (two
shared cores). On Windows only the wall time is limited, and only the child itself is ended, not what it started.
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
from typing import IO, Any

from nesting.errors import BadRecord, BadValue, Cancelled, ChildFailed, NestingError, OutOfMemory, OutOfTime
from nesting.sandbox_child import LARGEST_ANSWER
from nesting.units import Seconds

type Message = dict[str, Any]
"""A JSON object: a request, an answer, or news on the way."""

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

MARK = "NESTING_SANDBOX_CALL"
"""Environment variable by which a process that left the child's group is still known as belonging to the call."""

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


class _Answers:
    """What the child has said so far; filled by the listening thread, emptied by the waiting one.

    News that comes faster than it is taken is dropped but for the newest, so a chatty child cannot fill our memory.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._news: Message | None = None
        self.newest: Message | None = None
        self.final: Message | None = None
        self.closed = False

    def listen(self, stream: IO[bytes]) -> None:
        """Takes lines until the stream ends; what is not an answer is passed over."""
        with suppress(OSError, ValueError):
            while line := stream.readline(LARGEST_ANSWER):
                self._take(line)
        with self._changed:
            self.closed = True
            self._changed.notify()

    def _take(self, line: bytes) -> None:
        said: object = None
        if len(line) >= LARGEST_ANSWER and not line.endswith(b"\n"):
            said = {"fault": "ChildFailed", "message": f"Its answer is over {LARGEST_ANSWER // 2**20} MB."}
        else:
            with suppress(ValueError, RecursionError):
                said = json.loads(line)
        if not isinstance(said, dict):
            return
        with self._changed:
            if isinstance(said.get("news"), dict):
                self._news = self.newest = said["news"]
            elif self.final is None and (isinstance(said.get("answer"), dict) or isinstance(said.get("fault"), str)):
                self.final = said
            self._changed.notify()

    def wait(self, seconds: Seconds) -> None:
        """Returns when something is there, or after that many seconds."""
        with self._changed:
            if self._news is None and self.final is None and not self.closed:
                self._changed.wait(seconds)

    def news(self) -> Message | None:
        """The newest news, once."""
        with self._changed:
            news, self._news = self._news, None
        return news


def run_in_child(
    call: str,
    request: Message,
    limits: Limits,
    *,
    on_progress: Callable[[Message], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Message:
    """The answer of "package.module:function" to the request, worked out in a child process.

    Blocks until the answer is there; may be called from any thread. `on_progress` gets what the call reports,
    `should_stop` is asked every POLL seconds. However it ends, nothing that the call started is left running.

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
    mark = f"{os.getpid()}-{os.urandom(12).hex()}"
    answers = _Answers()
    with tempfile.TemporaryFile() as chatter:
        child = subprocess.Popen(
            [sys.executable, "-m", "nesting.sandbox_child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=chatter,
            env=_environment(mark),
            start_new_session=os.name == "posix",
        )
        assert child.stdin is not None  # noqa: S101 - for the type checker: both are pipes, as asked for above
        assert child.stdout is not None  # noqa: S101
        threads = [
            threading.Thread(target=answers.listen, args=(child.stdout,), daemon=True),
            threading.Thread(target=_send, args=(child.stdin, body), daemon=True),
        ]
        try:
            for thread in threads:
                thread.start()
            _follow(child, answers, limits, on_progress, should_stop)
        finally:
            _end(child, mark)
            _close(threads, (child.stdout, child.stdin))
        if (news := answers.news()) is not None and on_progress is not None:
            on_progress(news)
        return _judge(answers, child.returncode, _last_words(chatter), limits)


def _follow(
    child: subprocess.Popen[bytes],
    answers: _Answers,
    limits: Limits,
    on_progress: Callable[[Message], None] | None,
    should_stop: Callable[[], bool] | None,
) -> None:
    """Returns when the child has answered or ended."""
    deadline = time.monotonic() + limits.wall
    closed_at: Seconds | None = None
    while True:
        answers.wait(max(0.0, min(POLL, deadline - time.monotonic())))
        if (news := answers.news()) is not None and on_progress is not None:
            on_progress(news)
        if answers.final is not None or _has_ended(child):
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


def _judge(answers: _Answers, code: int, chatter: str, limits: Limits) -> Message:
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
    """Writes the request and leaves the stream open: its end tells the child that we are gone."""
    with suppress(OSError, ValueError):
        stream.write(body)
        stream.flush()


def _has_ended(child: subprocess.Popen[bytes]) -> bool:
    """Whether the child has ended. It is not reaped where that can be helped, so that its number stays taken."""
    if hasattr(os, "waitid"):
        with suppress(ChildProcessError):
            return os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOWAIT | os.WNOHANG) is not None
        return True
    return child.poll() is not None


def _end(child: subprocess.Popen[bytes], mark: str) -> None:
    """Kills what is left of the child and its group, and reaps it."""
    if os.name != "posix":
        child.kill()
        child.wait()
        return
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()
    _kill_strays(mark)


def _close(threads: Sequence[threading.Thread], streams: Sequence[IO[bytes]]) -> None:
    """Lets the threads end, and closes the stream of each. One that still hangs on its stream keeps it: closing would
    hang too, and that takes a process which outside Linux got away from `_end`.
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
