"""Runs several constructions at once, each in a child process, and hands what they report to one judge.

The judge (`take`) is called in the caller's own thread only. Whatever happens to a child — crash, hang, no memory, out
of time — the others go on, and what it reported before has been judged. When the caller's time is over or somebody
asks to stop, every child is killed before `race` returns.
"""

import threading
from collections.abc import Callable, Sequence

from nesting.errors import BadRecord, Cancelled, NestingError, OutOfTime
from nesting.layout.deadline import Deadline
from nesting.layout.engine import CHILD_MEMORY_MB, EXTRA_GAP, MOST_TRIES, Construction, is_finished
from nesting.model.nest import BarJob, SheetJob
from nesting.records.values import Record
from nesting.sandbox import Limits, run_in_child
from nesting.units import Mm, Seconds

POLL: Seconds = 0.05
"""How often the caller's thread looks at the clock and asks whether to stop."""

SHORTEST_RUN: Seconds = 0.1
"""A child is not started for less than this: it could not even load a solver."""

type Judge = Callable[[Construction, Record], bool]
"""Takes what a construction reported; False means that it broke the rules and must try again with an extra gap."""


class _Runner:
    """One construction in its own thread. Only its newest report is kept: it is better than those before it."""

    def __init__(
        self, construction: Construction, job: SheetJob | BarJob, deadline: Deadline, changed: threading.Condition
    ) -> None:
        self.construction = construction
        self._job, self._deadline, self._changed = job, deadline, changed
        self._newest: Record | None = None
        self._is_judged = True
        self._refused = threading.Event()
        self._stopped = threading.Event()
        self._next_gap: Mm = 0.0
        self.ended = False
        self.was_cut_short = True
        self.thread = threading.Thread(target=self._run, name=f"race-{construction.name}", daemon=True)

    def stop(self) -> None:
        self._stopped.set()
        with self._changed:
            self._changed.notify_all()

    @property
    def has_news(self) -> bool:
        return self._newest is not None

    def judge(self, take: Judge) -> None:
        """Hands the newest report, if there is one, to the judge; one that is refused makes it try again."""
        with self._changed:
            newest, self._newest = self._newest, None
        if newest is None:
            return
        accepted = False
        try:
            accepted = take(self.construction, newest)
        except BadRecord:
            accepted = False  # an engine that answers nonsense is treated like one that breaks the rules
        finally:
            if not accepted:
                self._refused.set()
            with self._changed:
                self._is_judged = self._newest is None
                self._changed.notify_all()

    def _run(self) -> None:
        try:
            for attempt in range(MOST_TRIES):
                self._refused.clear()
                self._try(attempt * EXTRA_GAP)
                if not self._may_have_been_refused():
                    break
        finally:
            with self._changed:
                self.ended = True
                self._changed.notify_all()

    def _try(self, extra_gap: Mm) -> None:
        seconds = self._deadline.remaining
        if seconds < SHORTEST_RUN or self._is_off():
            return
        request = self.construction.request(self._job, seconds, self._deadline.seed, extra_gap)
        limits = Limits(wall=seconds, memory_mb=CHILD_MEMORY_MB)
        try:
            answer = run_in_child(
                self.construction.call, request, limits, on_progress=self._put, should_stop=self._is_off
            )
            self.was_cut_short = not is_finished(answer)
            self._put(answer)
        except OutOfTime as late:
            if isinstance(late.best, dict):
                self._put(late.best)
        except (Cancelled, NestingError):
            # It crashed, was told to stop, or answered nonsense. What it had reported before is not lost.
            return

    def _put(self, record: Record) -> None:
        with self._changed:
            self._newest, self._is_judged = record, False
            self._changed.notify_all()

    def _is_off(self) -> bool:
        return self._stopped.is_set() or self._refused.is_set()

    def _may_have_been_refused(self) -> bool:
        """Waits until the judge has seen the last report, so that it can be refused."""
        with self._changed:
            self._changed.wait_for(lambda: self._is_judged or self._stopped.is_set())
        return self._refused.is_set() and not self._stopped.is_set()


def race(
    constructions: Sequence[Construction],
    job: SheetJob | BarJob,
    deadline: Deadline,
    take: Judge,
    *,
    is_done: Callable[[], bool] = lambda: False,
    at_once: int = 2,
) -> bool:
    """Runs the constructions, `at_once` at a time in their order, until all have ended or the time is over.

    `is_done` ends it early: what has been taken cannot be bettered. Returns whether any was stopped before its own end,
    so that another race could end differently.
    """
    changed = threading.Condition()
    waiting = [_Runner(construction, job, deadline, changed) for construction in constructions]
    running: list[_Runner] = []
    cut_short = False
    try:
        while waiting or running:
            while waiting and len(running) < at_once and not deadline.is_over:
                running.append(waiting.pop(0))
                running[-1].thread.start()
            with changed:
                changed.wait_for(lambda: any(r.ended or r.has_news for r in running), POLL)
            for runner in running:
                runner.judge(take)
            if deadline.is_over or is_done():
                break
            for runner in [r for r in running if r.ended]:
                runner.judge(take)
                cut_short = cut_short or runner.was_cut_short
                running.remove(runner)
    finally:
        for runner in running:
            runner.stop()
        for runner in running:
            runner.thread.join()
    if not deadline.should_stop():
        for runner in running:
            runner.judge(take)
    return cut_short or bool(waiting) or any(runner.was_cut_short for runner in running)
