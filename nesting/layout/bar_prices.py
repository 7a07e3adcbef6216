"""The programme over patterns of one bar: what a further piece is worth, and which bars to cut. For `bar_patterns`.

HiGHS solves it, which is in SciPy. A piece that no bar takes is left out at a price above any bar, so that as many as
possible are laid where bars are short.
"""

import importlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.units import Seconds

optimize: Any = importlib.import_module("scipy.optimize")
sparse: Any = importlib.import_module("scipy.sparse")
"""Without type stubs, so imported past the type checker."""

LEFT_OUT = 4.0
"""What leaving a piece out costs, in the dearest bar."""

MOST_PATTERNS = 20_000

type Numbers = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Pattern:
    """How often each item lies on one bar of the kind at `bar`."""

    bar: int
    times: Numbers


@dataclass(frozen=True, eq=False)
class Chosen:
    """Bars to cut, as (kind, times of each item, copies), and how many of each item are left out."""

    bars: tuple[tuple[int, Numbers, int], ...]
    missing: Numbers
    cost: float

    def is_better_than(self, other: "Chosen") -> bool:
        if self.missing.sum() != other.missing.sum():
            return bool(self.missing.sum() < other.missing.sum())
        return self.cost < other.cost * (1.0 - 1e-9)


@dataclass
class Programme:
    wanted: Numbers
    costs: Numbers
    limits: Numbers
    patterns: list[Pattern] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._known: set[tuple[int, bytes]] = set()
        self._penalty = LEFT_OUT * max(float(self.costs.max(initial=0.0)), 1e-6)

    def add(self, patterns: Iterable[Pattern]) -> int:
        """How many of them are new."""
        before = len(self.patterns)
        for pattern in patterns:
            key = (pattern.bar, pattern.times.tobytes())
            if key not in self._known and pattern.times.any() and before < MOST_PATTERNS:
                self._known.add(key)
                self.patterns.append(pattern)
        return len(self.patterns) - before

    @property
    def matrix(self) -> Numbers:
        if not self.patterns:
            return np.zeros((len(self.wanted), 0))
        return np.column_stack([pattern.times for pattern in self.patterns])

    def _rows(self) -> tuple[Any, Any, Numbers, list[int]]:
        """Pieces made, with those left out; bars used of each kind that is limited; costs; which kinds these are."""
        count, kinds = len(self.wanted), [pattern.bar for pattern in self.patterns]
        made = sparse.hstack([sparse.csr_array(self.matrix), sparse.identity(count, format="csr")], format="csr")
        limited = [k for k, limit in enumerate(self.limits) if np.isfinite(limit)]
        used = np.zeros((len(limited), len(kinds) + count))
        for row, k in enumerate(limited):
            used[row, : len(kinds)] = [kind == k for kind in kinds]
        costs = np.concatenate([self.costs[kinds], np.full(count, self._penalty)]) if kinds else np.full(count, 1.0)
        return made, sparse.csr_array(used), costs, limited

    def prices(self, wanted: Numbers) -> tuple[Numbers, Numbers, float] | None:
        """What a further piece of each item and a further bar of each kind is worth, and the least cost of shares."""
        solved, limited = self._solved(wanted)
        if solved.x is None:
            return None
        marginals = -np.asarray(solved.ineqlin.marginals)
        scarce = np.zeros(len(self.costs))
        for row, k in enumerate(limited):
            scarce[k] = max(0.0, marginals[len(wanted) + row])
        return np.maximum(0.0, marginals[: len(wanted)]), scarce, float(solved.fun)

    def shares(self, wanted: Numbers) -> Numbers | None:
        """How often each pattern is cut if bars may be cut in shares."""
        solved, _ = self._solved(wanted)
        return None if solved.x is None else np.asarray(solved.x)[: len(self.patterns)]

    def _solved(self, wanted: Numbers) -> tuple[Any, list[int]]:
        made, used, costs, limited = self._rows()
        upper = np.concatenate([-wanted, self.limits[limited]])
        matrix = sparse.csr_array(np.vstack([-made.toarray(), used.toarray()])) if limited else -made
        return optimize.linprog(costs, A_ub=matrix, b_ub=upper, method="highs"), limited

    def chosen(self, seconds: Seconds, rng: np.random.Generator) -> Chosen | None:
        """The cheapest bars found within the time; None where none was."""
        made, used, costs, limited = self._rows()
        rows: list[Any] = [optimize.LinearConstraint(made, self.wanted, np.inf)]
        if limited:
            rows.append(optimize.LinearConstraint(used, -np.inf, self.limits[limited]))
        most = np.concatenate([np.full(len(self.patterns), np.inf), self.wanted])
        settings = {"time_limit": seconds, "mip_rel_gap": 0.0, "disp": False}
        solved = optimize.milp(
            costs, constraints=rows, bounds=optimize.Bounds(0, most), integrality=np.ones(len(costs)), options=settings
        )
        if solved.x is None:
            return None
        copies = np.round(solved.x).astype(int)
        return self._trimmed(copies[: len(self.patterns)], copies[len(self.patterns) :])

    def _trimmed(self, copies: NDArray[np.int_], missing: NDArray[np.int_]) -> Chosen:
        """The bars without what would be made beyond the wanted number."""
        bars = [(p.bar, p.times.copy(), int(n)) for p, n in zip(self.patterns, copies, strict=True) if n > 0]
        cost = sum(float(self.costs[bar]) * n for bar, _, n in bars)
        for k, wanted in enumerate(self.wanted):
            beyond = round(sum(times[k] * n for _, times, n in bars) - wanted)
            bars = _less(bars, k, beyond)
        made = sum((times * n for _, times, n in bars), np.zeros(len(self.wanted)))
        kept = tuple((bar, times, n) for bar, times, n in bars if times.any())
        return Chosen(kept, np.maximum(0.0, self.wanted - made), cost)


def _less(bars: Sequence[tuple[int, Numbers, int]], k: int, beyond: int) -> list[tuple[int, Numbers, int]]:
    """The bars with `beyond` fewer of the item at k, taken from as few bars as can be, the last first."""
    rows: list[tuple[int, Numbers, int]] = []
    for bar, times, copies in reversed(bars):
        kept, left = times.copy(), copies
        while beyond > 0 and kept[k] > 0 and left > 0:
            each = min(round(kept[k]), max(1, beyond // left))  # fewer on every copy, or on some of them
            some = min(left, beyond // each)
            beyond -= each * some
            if some < left:
                fewer = kept.copy()
                fewer[k] -= each
                rows.append((bar, fewer, some))
                left -= some
            else:
                kept[k] -= each
        rows.append((bar, kept, left))
    return rows[::-1]
