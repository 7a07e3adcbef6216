"""Children forked from a process that has slow modules loaded already, for `nesting.sandbox`; Linux only.

One such process (`nesting.sandbox_parent`) is kept for each list of modules, started at its first call and again
whenever it is gone. A process that forks, such as a pool of workers, shares none with its forks: each starts its own.
"""

import atexit
import os
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from typing import IO

from nesting.units import Seconds

AVOIDED: Seconds = 60.0
"""How long no process is kept for modules with which one ended before it served; meanwhile children start fresh."""

START_WAIT: Seconds = 20.0
"""How long the process may take to load its modules and fork; usually 1 s with Open CASCADE, and then 2 ms."""

END_WAIT: Seconds = 2.0
"""How long the process may take to say that a killed child is gone, before it is killed itself."""

ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""A process that forks must have no threads of a library, which would be missing in the fork."""


class ParentLost(Exception):
    """The process that forks is gone, or could not fork; the call has no answer and can be made another way."""


class _Parent:
    """The owner's side of one process that forks."""

    def __init__(self, modules: tuple[str, ...], environment: dict[str, str], mark: str) -> None:
        self.has_served = False
        self.main, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        try:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "nesting.sandbox_parent", str(os.getpid()), mark, *modules],
                stdin=theirs.fileno(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env=environment | ONE_THREAD,
                start_new_session=True,
            )
        except OSError:
            self.main.close()
            raise
        finally:
            theirs.close()
        # Reaps it whenever it ends, so that it is never left as a zombie.
        threading.Thread(target=self.process.wait, name="sandbox parent", daemon=True).start()

    def end(self) -> None:
        with suppress(OSError):
            self.main.close()
        self.process.kill()
        self.process.wait()


class ForkedChild:
    """One call's child, known through the process that forked it.

    Raises:
        ParentLost: at once, or in any later question, where that process is gone or does not fork.
    """

    def __init__(self, parent: _Parent, mark: str, orders: int, answers: int, chatter: IO[bytes]) -> None:
        self._parent = parent
        self._asked_at = time.monotonic()
        self._has_started = False
        self._code: int | None = None
        self._control, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        try:
            socket.send_fds(parent.main, [mark.encode()], [orders, answers, chatter.fileno(), theirs.fileno()])
        except OSError as fault:
            self._control.close()
            raise ParentLost from fault
        finally:
            theirs.close()
        self._control.setblocking(False)

    def has_ended(self) -> bool:
        while self._code is None:
            try:
                self._hear()
            except BlockingIOError:
                if not self._has_started and time.monotonic() - self._asked_at > START_WAIT:
                    discard(self._parent)
                    raise ParentLost from None
                return False
        return True

    def end(self) -> int | None:
        """Kills what is left of it and its group, and gives back its exit code; None where nobody could say it.

        One that was not forked yet never will be. Where the process that forks does not do its work, it is killed.
        """
        try:
            if not (self._has_started or self.has_ended() or self._has_started):
                return None
            self._control.settimeout(END_WAIT)
            with suppress(OSError):  # it may have said how the child ended, and closed
                self._control.shutdown(socket.SHUT_WR)
            while self._code is None:
                self._hear()
        except (OSError, ParentLost):
            if self._code is None:
                discard(self._parent)
        finally:
            self._control.close()
        return self._code

    def _hear(self) -> None:
        """Takes one thing that was said.

        Raises:
            ParentLost: nothing will be said any more.
            OSError: nothing was said so far.
        """
        text = self._control.recv(64)
        if not text:
            raise ParentLost
        self._has_started = self._parent.has_served = True
        if text.startswith(b"ended "):
            self._code = int(text[6:])


_parents: dict[tuple[str, ...], _Parent] = {}
_avoided: dict[tuple[str, ...], Seconds] = {}
_lock = threading.Lock()


def can_fork() -> bool:
    return sys.platform == "linux"


def parent_for(modules: tuple[str, ...], environment: dict[str, str], mark: str) -> _Parent:
    """The process that has these modules loaded for these search paths, started if there is none.

    Raises:
        ParentLost: it cannot be started, or one like it ended before it served a moment ago.
    """
    key = (environment.get("PYTHONPATH", ""), *modules)
    with _lock:
        parent = _parents.get(key)
        if parent is not None and parent.process.poll() is not None:
            if not parent.has_served:
                _avoided[key] = time.monotonic() + AVOIDED
            parent.end()
            del _parents[key]
            parent = None
        if parent is None:
            if time.monotonic() < _avoided.get(key, 0.0):
                raise ParentLost
            try:
                parent = _parents[key] = _Parent(modules, environment, mark)
            except OSError as fault:
                raise ParentLost from fault
        return parent


def discard(parent: _Parent) -> None:
    """Kills a process that forks, with its children; the next call starts another."""
    with _lock:
        for key in [key for key, known in _parents.items() if known is parent]:
            if not parent.has_served:
                _avoided[key] = time.monotonic() + AVOIDED
            del _parents[key]
        parent.end()


@atexit.register
def end_all() -> None:
    """Kills all processes that fork, with their children."""
    with _lock:
        while _parents:
            _parents.popitem()[1].end()


def _forget() -> None:
    """In a fork of this process: the processes that fork, and the locks, are the other one's."""
    global _lock  # noqa: PLW0603 - a thread of the other process may have held it when this one was forked
    _lock = threading.Lock()
    for parent in _parents.values():
        with suppress(OSError):
            parent.main.close()
        parent.process.returncode = 0  # it is no child of this process: nothing to wait for or to warn of
    _parents.clear()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget)
