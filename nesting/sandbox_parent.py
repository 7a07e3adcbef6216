"""A process that has imported slow modules once and forks a child for each call: the middle between `nesting.sandbox`
and `nesting.sandbox_child`, started as `python -m nesting.sandbox_parent OWNER MARK MODULE...`.

Standard input is a socket to its owner, the process OWNER. Each message on it is the mark of one call with four
descriptors: the pipes for order and answers, the file for chatter, and a socket of this call alone. On that it says
"started" and, once the child is reaped with all of its group, "ended CODE"; when the owner closes it, the child is
killed. It runs nothing that a stranger sent, has one thread, and ends when its owner does, which takes
its children along (the kernel's word to them), or when it was not needed for a while.
"""

import ctypes
import gc
import importlib
import os
import select
import signal
import socket
import sys
import time
from contextlib import suppress
from typing import NoReturn

from nesting.sandbox_child import MARK, answer_one_call, silence
from nesting.units import Seconds

LOOK: Seconds = 0.02
"""How often it looks whether a child has ended. Only a crashed one waits for that: answers go past this process."""

LOOK_AT_KILLED: Seconds = 0.002
"""The same after a child was killed, which its owner waits for."""

LOOK_AT_REST: Seconds = 0.5
"""How often it looks whether its owner is still there while it has no child."""

KEPT_WARM: Seconds = 900.0
"""It ends when no call came for so long: its libraries fill 250 MB, and the next call then waits a second once."""

DESCRIPTORS = 4


class _Calls:
    """The children at work, by the socket of their call."""

    def __init__(self, owner: int, main: socket.socket, mark: str) -> None:
        self._owner, self._main, self._mark = owner, main, mark
        self._pid = os.getpid()
        self._children: dict[socket.socket, int] = {}
        self._closed: set[socket.socket] = set()
        """Calls that their owner has closed; their sockets are not listened to again."""

    def serve(self) -> None:
        """Forks for each call until nobody needs it any more."""
        last_call = time.monotonic()
        while os.getppid() == self._owner and (self._children or time.monotonic() - last_call < KEPT_WARM):
            listened = [self._main, *(each for each in self._children if each not in self._closed)]
            pause = LOOK_AT_KILLED if self._closed else LOOK if self._children else LOOK_AT_REST
            ready, _, _ = select.select(listened, [], [], pause)
            for each in ready:
                if each is not self._main:
                    self._closed.add(each)
                    _kill(self._children[each])
                elif not self._take():
                    return
            for each, pid in list(self._children.items()):
                self._reap(each, pid)
            if self._children:
                last_call = time.monotonic()

    def end(self) -> None:
        for pid in self._children.values():
            _kill(pid)

    def _take(self) -> bool:
        """Forks for the next call; False where the owner is gone."""
        text, descriptors, _, _ = socket.recv_fds(self._main, 256, DESCRIPTORS)
        if not text:
            return False
        if len(descriptors) != DESCRIPTORS:  # too many files are open here
            for number in descriptors:
                os.close(number)
            return True
        orders, answers, chatter, number = descriptors
        control = socket.socket(fileno=number)
        try:
            # Where the owner has left this call already, it is not forked any more.
            pid = -1
            if not select.select([control], [], [], 0.0)[0]:
                control.send(b"started")  # before it is, for it may answer before this process runs again
                pid = os.fork()
        except OSError:  # no memory, or too many processes: the owner sees the end of the socket and helps itself
            pass
        if pid == 0:
            self._be_child(text.decode(), orders, answers, chatter)
        for number in (orders, answers, chatter):
            os.close(number)
        if pid < 0:
            control.close()
            return True
        self._children[control] = pid
        return True

    def _be_child(self, mark: str, orders: int, answers: int, chatter: int) -> NoReturn:
        try:
            os.setsid()
            os.dup2(chatter, 2)
            kept = sorted((orders, answers))
            # Also the sockets of other calls, which would hide from their owners that this process is gone.
            for low, high in ((3, kept[0]), (kept[0] + 1, kept[1]), (kept[1] + 1, 65536)):
                os.closerange(low, high)
            for number in kept:
                os.set_inheritable(number, False)
            _bear(self._mark, mark)
            answer_one_call(orders, answers, self._pid)
        finally:
            os._exit(1)

    def _reap(self, control: socket.socket, pid: int) -> None:
        """Reaps a child that has ended, after the rest of its group, and tells its owner how it ended."""
        # Not reaped at first, so that its number, which is its group's too, stays taken until the group is gone.
        if os.waitid(os.P_PID, pid, os.WEXITED | os.WNOWAIT | os.WNOHANG) is None:
            return
        _kill(pid)
        _, status = os.waitpid(pid, 0)
        with suppress(OSError):
            control.send(b"ended %d" % os.waitstatus_to_exitcode(status))
        control.close()
        del self._children[control]
        self._closed.discard(control)


def _kill(pid: int) -> None:
    """Kills a child and its group, which it may not have made yet."""
    for kill in (os.killpg, os.kill):
        with suppress(ProcessLookupError, PermissionError):
            kill(pid, signal.SIGKILL)


def _bear(old: str, new: str) -> None:
    """Writes the mark of a call over that of this process where the system shows it, for forks of the child too."""
    with suppress(AttributeError, OSError, ValueError):
        library = ctypes.CDLL(None)
        library.getenv.restype = ctypes.c_void_p
        place = library.getenv(MARK.encode())
        if place and len(old) == len(new) and ctypes.string_at(place) == old.encode():
            ctypes.memmove(place, new.encode(), len(new))
    os.environ[MARK] = new


def main(arguments: list[str]) -> None:
    """Imports the modules, then serves its owner."""
    owner, mark, modules = int(arguments[0]), arguments[1], arguments[2:]
    main_socket = socket.socket(fileno=os.dup(0))
    silence()
    for module in modules:
        importlib.import_module(module)
    gc.collect()
    gc.freeze()  # else each child's first collection would copy all that was imported
    calls = _Calls(owner, main_socket, mark)
    try:
        calls.serve()
    finally:
        calls.end()
        os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1:])
