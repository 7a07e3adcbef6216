"""A few solver runs at a time, each in a child process of its own, for an engine that decides as it goes what to run.

The engine starts runs and takes what they say with `wait`, all in its own thread. A run that crashes, hangs or lies
says nothing, or less; it never raises here.
"""

import queue
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field

from nesting.errors import NestingError, OutOfTime
from nesting.layout.engine import CHILD_MEMORY_MB
from nesting.records.values import Record
from nesting.sandbox import Limits, run_in_child
from nesting.units import Seconds

OVERRUN: Seconds = 1.0
"""How long after its own limit a run may still answer before it is killed."""

END_WAIT: Seconds = 2.0
"""How long to wait at the end for a killed child to be gone; usually it takes 0.1 s."""


@dataclass(eq=False)
class Run:
    """One solver at work. `purpose` is the engine's own note of what the answer is for."""

    call: str
    request: Record
    purpose: object
    stopped: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    def stop(self) -> None:
        """Kills it soon; it still ends with a last message."""
        self.stopped.set()


@dataclass(frozen=True)
class Said:
    """What a run reported, or its last word: then `is_last`, and `record` is None if it had no answer."""

    run: Run
    record: Record | None
    is_last: bool


class Solvers:
    """Up to `at_once` runs. Use it in a `with` block: at its end all are killed."""

    def __init__(self, at_once: int = 2) -> None:
        self._at_once = at_once
        self._said: queue.SimpleQueue[Said] = queue.SimpleQueue()
        self.running: list[Run] = []

    @property
    def free(self) -> int:
        return self._at_once - len(self.running)

    def start(self, call: str, request: Record, seconds: Seconds, purpose: object) -> Run:
        """Starts a run at once; `seconds` is its own limit, told to it as well."""
        run = Run(call, request | {"seconds": seconds}, purpose)
        self.running.append(run)
        run.thread = threading.Thread(target=self._follow, args=(run, seconds), daemon=True)
        run.thread.start()
        return run

    def wait(self, seconds: Seconds) -> Sequence[Said]:
        """All that has been said, as soon as something is, or nothing after so many seconds."""
        said: list[Said] = []
        try:
            said.append(self._said.get(timeout=max(0.001, seconds)))
            while True:
                said.append(self._said.get_nowait())
        except queue.Empty:
            pass
        for each in said:
            if each.is_last:
                self.running.remove(each.run)
        return said

    def __enter__(self) -> "Solvers":
        return self

    def __exit__(self, *_: object) -> None:
        for run in self.running:
            run.stop()
        for run in self.running:
            if run.thread is not None:
                run.thread.join(END_WAIT)

    def _follow(self, run: Run, seconds: Seconds) -> None:
        answer: Record | None = None
        try:
            answer = run_in_child(
                run.call,
                run.request,
                Limits(wall=seconds + OVERRUN, memory_mb=CHILD_MEMORY_MB),
                on_progress=lambda record: self._said.put(Said(run, record, is_last=False)),
                should_stop=run.stopped.is_set,
            )
        except OutOfTime as late:
            answer = late.best if isinstance(late.best, dict) else None
        except (NestingError, OSError):
            answer = None  # it crashed or was stopped; what it had reported before has been passed on
        self._said.put(Said(run, answer, is_last=True))
