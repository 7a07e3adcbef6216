"""Holds the best nest so far, and lets only a better one pass that keeps the rules."""

from collections.abc import Callable, Sequence

from nesting.layout.score import Score
from nesting.model.findings import Finding
from nesting.model.nest import BarNest, SheetNest


class Contest[N: SheetNest | BarNest]:
    """`score` says how good a nest is, `check` finds its faults, `report` gets each better one that has none.

    `start` is a nest with nothing laid: what stands if nothing that is offered passes.
    """

    def __init__(
        self,
        start: N,
        score: Callable[[N], Score],
        check: Callable[[N], Sequence[Finding]],
        report: Callable[[N], None],
    ) -> None:
        self._judge, self._check, self._report = score, check, report
        self.best = start
        self.score: Score | None = None

    def offer(self, nest: N) -> bool:
        """Keeps and reports the nest if it is better than the best; False only if it breaks a rule."""
        score = self._judge(nest)
        if not score.is_better_than(self.score):
            return True
        if self._check(nest):
            return False
        self.best, self.score = nest, score
        self._report(nest)
        return True
