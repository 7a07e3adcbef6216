"""Keeps a few child processes running for as long as this one does, and leaves none behind however it ends.

Used by `manage.py up`. A child that dies is started again after a pause that doubles each time; one that dies too
often ends the whole. Children are in process groups of their own, so that Ctrl-C in a terminal reaches this process
alone, which then asks each child to end, waits, and kills what is left.
"""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

LOOK_EVERY_S = 0.1
MOST_RESTARTS = 5
FIRST_PAUSE_S = 1.0
STEADY_AFTER_S = 60.0
"""A child that ran this long has recovered: earlier deaths no longer count."""


@dataclass
class Child:
    """One program: `name` as people are told of it, `module` with `args` as Python runs it.

    `grace_s` is how long it may take to end when asked.
    """

    name: str
    module: str
    args: Sequence[str]
    grace_s: float
    process: "subprocess.Popen[bytes] | None" = None
    started_at: float = 0.0
    restarts: int = 0
    again_at: float = 0.0

    def start(self) -> None:
        tied = Path(__file__).with_name("with_parent.py")
        # -P: this folder's own modules must not be found as top-level ones.
        command = [sys.executable, "-P", str(tied), str(os.getpid()), self.module, *self.args]
        flags = {"start_new_session": True} if os.name == "posix" else {"creationflags": _new_group()}
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, env=_environment(), **flags)  # type: ignore[call-overload]
        self.started_at = time.monotonic()

    def exit_code(self) -> int | None:
        return None if self.process is None else self.process.poll()


class Children:
    """The children, as one thing that starts, is looked after, and stops."""

    def __init__(self, children: Sequence[Child], say: Callable[[str], object]) -> None:
        self.children = children
        self.say = say
        self.stop_asked = False

    def stop_on_signals(self) -> None:
        """Ctrl-C, SIGTERM and a closed terminal ask for the stop; call it before the first start."""
        for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), self._ask_to_stop)

    def _ask_to_stop(self, *_: object) -> None:
        # Only a flag: a handler runs in the middle of anything, also of a lock.
        self.stop_asked = True

    def start(self) -> None:
        for child in self.children:
            child.start()

    def wait_for(self, is_up: Callable[[], bool], child: Child, at_most_s: float) -> bool:
        """Whether `child` came up; False where it ended, took too long, or the stop was asked for."""
        deadline = time.monotonic() + at_most_s
        while not self.stop_asked and child.exit_code() is None and time.monotonic() < deadline:
            if is_up():
                return True
            time.sleep(LOOK_EVERY_S)
        return False

    def look_after(self) -> bool:
        """Returns when the stop was asked for (True) or a child died too often (False)."""
        while not self.stop_asked:
            for child in self.children:
                if not self._look_at(child):
                    return False
            time.sleep(LOOK_EVERY_S)
        return True

    def _look_at(self, child: Child) -> bool:
        """Whether there is hope for the child."""
        now = time.monotonic()
        if child.again_at:
            if now >= child.again_at:
                child.again_at = 0.0
                child.start()
            return True
        if (code := child.exit_code()) is None:
            if child.restarts and now - child.started_at > STEADY_AFTER_S:
                child.restarts = 0
            return True
        how = f"{child.name} ended by itself ({_how_it_ended(code)})"
        _end(child)
        if child.restarts >= MOST_RESTARTS:
            self.say(f"{how}, {MOST_RESTARTS + 1} times within a short time. Everything stops; its last lines say why.")
            return False
        pause = FIRST_PAUSE_S * 2**child.restarts
        child.restarts += 1
        child.again_at = now + pause
        self.say(f"{how}. Starting it again in {pause:g} s ({child.restarts} of {MOST_RESTARTS}).")
        return True

    def stop(self) -> None:
        """Asks each child to end, waits for as long as each may take, and kills what is left with all it started."""
        running = [(child.process, child.grace_s) for child in self.children if child.process is not None]
        for process, _ in running:
            with contextlib.suppress(ProcessLookupError):
                process.terminate()
        asked_at = time.monotonic()
        for process, grace_s in running:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(max(0.0, asked_at + grace_s - time.monotonic()))
        for child in self.children:
            _end(child)


def _end(child: Child) -> None:
    """Ends what may be left of a child and its group, and reaps it."""
    if child.process is None:
        return
    with contextlib.suppress(ProcessLookupError, PermissionError):
        if os.name == "posix":
            os.killpg(child.process.pid, signal.SIGKILL)
        else:
            child.process.kill()
    child.process.wait()
    if child.process.stdin is not None:
        child.process.stdin.close()
    child.process = None


def _how_it_ended(code: int) -> str:
    if code < 0 and -code in set(signal.Signals):
        return signal.Signals(-code).name
    return f"exit code {code}"


def _environment() -> dict[str, str]:
    root = str(Path(__file__).resolve().parents[2])
    earlier = os.environ.get("PYTHONPATH")
    return {**os.environ, "PYTHONPATH": os.pathsep.join([root, earlier] if earlier else [root])}


def _new_group() -> int:
    return int(getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0))
