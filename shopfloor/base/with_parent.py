"""Runs a module as a program that ends when the process which started it does: `with_parent.py PARENT MODULE ARGS`.

`base.children` starts every child this way. The start hands over the read end of a pipe as standard input; its end, or
on Linux the kernel's word, tells that the parent is gone, even where it was killed and could say nothing any more. No
tidying is done then: work in hand is protected by its lease, and what was answered is in the database.
"""

import contextlib
import os
import runpy
import signal
import sys
import threading

SET_PARENT_DEATH_SIGNAL = 1
"""PR_SET_PDEATHSIG in <linux/prctl.h>."""


def end_with(parent: int) -> None:
    """From now on this process ends when `parent` ends, and at once where that has happened already."""
    if sys.platform == "linux":
        import ctypes

        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(SET_PARENT_DEATH_SIGNAL, int(signal.SIGKILL), 0, 0, 0)
        if os.getppid() != parent:
            os._exit(1)

    def watch() -> None:
        while os.read(0, 4096):
            pass
        os._exit(1)

    threading.Thread(target=watch, name="parent watch", daemon=True).start()


def stop_in_order(signal_number: int, frame: object) -> None:
    """Lets a server end by its own tidying; what runs here may set a handler of its own instead."""
    sys.exit(0)


def run(parent: int, module: str, args: list[str]) -> None:
    end_with(parent)
    signal.signal(signal.SIGTERM, stop_in_order)
    sys.argv = [module, *args]
    runpy.run_module(module, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    run(int(sys.argv[1]), sys.argv[2], sys.argv[3:])
