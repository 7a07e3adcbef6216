"""Holds the best nest so far, and lets only a better one pass that keeps the rules."""

import threading
from collections.abc import Callable, Sequence

from nesting.layout.deadline import Deadline
from nesting.layout.score import Score
from nesting.model.findings import Finding
from nesting.model.nest import BarNest, SheetNest
from nesting.units import Seconds

GRACE: Seconds = 0.5
"""How far a check may overrun the budget before its nest is given up; half of what the whole call may."""

POLL: Seconds = 0.05
"""How often to ask whether to stop while a check runs."""


class Contest[N: SheetNest | BarNest]:
    """`score` says how good a nest is, `check` finds its faults, `report` gets each better one that has none.

    `start` is a nest with nothing laid: what stands if nothing that is offered passes. A check may take a second, so
    it runs in a thread of its own; when somebody asks to stop meanwhile, its nest is given up.
    """

    def __init__(
        self,
        start: N,
        deadline: Deadline,
        *,
        score: Callable[[N], Score],
        check: Callable[[N], Sequence[Finding]],
        report: Callable[[N], None],
    ) -> None:
        self._deadline, self._judge, self._check, self._report = deadline, score, check, report
        self.best = start
        self.score: Score | None = None

    def offer(self, nest: N) -> bool:
        """Keeps and reports the nest if it is better than the best; False only if it breaks a rule."""
        score = self._judge(nest)
        if not score.is_better_than(self.score):
            return True
        findings = self._findings(nest)
        if findings is None:
            return True
        if findings:
            return False
        self.best, self.score = nest, score
        self._report(nest)
        return True

    def _findings(self, nest: N) -> Sequence[Finding] | None:
        """What the check found, or None where it was given up."""
        answers: list[Sequence[Finding]] = []
        faults: list[BaseException] = []

        def run() -> None:
            try:
                answers.append(self._check(nest))
            except BaseException as fault:
                faults.append(fault)

        thread = threading.Thread(target=run, name="check", daemon=True)
        thread.start()
        while thread.is_alive():
            thread.join(POLL)
            is_late = self._deadline.elapsed > self._deadline.budget + GRACE
            if thread.is_alive() and (is_late or self._deadline.should_stop()):
                return None
        if faults:
            raise faults[0]
        return answers[0]
