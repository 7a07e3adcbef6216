"""Lays bars whose mitres lie against each other: patterns of one bar are made as they are needed, then chosen among.

A pattern's length counts what its facing ends save (`bar_way`). Prices of the pieces come from the linear programme of
Gilmore and Gomory (Operations Research 9, 1961, and 11, 1963) over the patterns so far (`bar_prices`), the first of
which the plain solver gives (`bar_halves`); bars are chosen by the integer programme over all patterns made. The answer
has `bound` beside the usual: no way to lay all pieces costs less, or None where that is not known. It holds for
interlocking too, for the last prices are proven against lengths that are rounded in the other direction.
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from nesting.errors import BadValue
from nesting.layout.bar_halves import Halves
from nesting.layout.bar_order import BarOrder
from nesting.layout.bar_prices import Chosen, Pattern, Programme
from nesting.layout.bar_way import Item, Lengths, best_patterns
from nesting.layout.engine import Report, bars_to_record
from nesting.layout.engines.first_fit import HAIR, room_on
from nesting.layout.joints import Joints
from nesting.model.nest import BarJob, BarLayout
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, number, whole_number
from nesting.units import Seconds

HALVED = 0.2
"""Share of the time that the plain solver may take for each of its looks."""

FULL = 0.97
"""Share of a bar that a filling by chance must use to be kept."""

MOST_BY_CHANCE, MOST_FILLS = 120, 400
"""Pieces of a job that is filled by chance at all, and fillings made at a time."""

MOST_ROUNDS = 2_000
"""How often prices are found anew before what there is must do."""

NOISE = 1e-7

FITS = 10.0 * HAIR
"""Forgiven where the pieces of a pattern are laid: sums of a hundred floats."""


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    job = job_from_record(request["job"])
    if not isinstance(job, BarJob):
        raise BadValue("bar patterns: a bar job is needed.")
    ends_at = time.monotonic() + number(request, "seconds", "request")
    rng = np.random.default_rng(whole_number(request, "seed", "request"))
    search = _Search(job, number(request, "extra_gap_mm", "request", 0.0), ends_at, rng)
    layouts, finished = search.run(lambda found: report(bars_to_record(found) | {"bound": search.bound}))
    return bars_to_record(layouts, finished=finished) | {"bound": search.bound}


@dataclass
class _Search:
    """One job with its patterns so far."""

    job: BarJob
    extra_gap: float
    ends_at: float
    rng: np.random.Generator

    def __post_init__(self) -> None:
        self.joints = Joints(self.job)
        self.order = BarOrder(self.job, self.joints)
        self.lengths = Lengths(self.job, self.joints, self.extra_gap)
        self.items = self.lengths.items
        self.wanted = np.array([item.count for item in self.items], dtype=float)
        self.costs = np.array([bar.price for bar in self.job.stock])
        limits = [math.inf if bar.count is None else float(bar.count) for bar in self.job.stock]
        self.programme = Programme(self.wanted, self.costs, np.array(limits))
        self.bound: float | None = None
        self.best: Chosen | None = None

    @property
    def left(self) -> Seconds:
        return self.ends_at - time.monotonic()

    def run(self, report: Callable[[list[BarLayout]], None]) -> tuple[list[BarLayout], bool]:
        """The best layouts, and whether the search ended by itself."""
        for k, item in enumerate(self.items):
            self.programme.add(self._alone(k, item))
        if self.joints.may_save:  # else the plain solver runs beside this one
            self._halved(report)
        if self._is_proven():
            return self._layouts(self.best) if self.best else [], True
        converged = self._priced(self.wanted, share=0.5, is_whole=True)
        # The bound may be all that another's nest lacks for its proof.
        report([] if self.best is None else self._layouts(self.best))
        self._choose(report, min(0.5 * self.left, 20.0))
        tries = 0
        while self.left > 0.1 and not self._is_proven() and tries < 40:
            tries += 1
            self._fill_by_chance(0.1 * self.left)
            self._dive()
            self._choose(report, min(0.4 * self.left, 10.0))
        layouts = [] if self.best is None else self._layouts(self.best)
        return layouts, converged and self._is_proven()

    def _halved(self, report: Callable[[list[BarLayout]], None]) -> None:
        """Patterns and a bound from the plain solver, with mitres that count half: for many jobs that is enough."""
        halves = Halves(self.job, self.joints, self.items, self.extra_gap)
        for outer, loosely in ((halves.most_outer, False), (halves.least_outer, True)):
            if self.left < 0.3 or self._is_proven():
                return
            found = halves.lay(outer, HALVED * self.left, loosely=loosely)
            if found.bound is not None:
                self._raise_bound(found.bound)
            self.programme.add(self._cut_to_fit(bar, times) for bar, times in found.patterns)
            self._choose(report, min(0.2 * self.left, 5.0))

    def _cut_to_fit(self, bar: int, times: np.ndarray) -> Pattern:
        """The pattern, without the shortest pieces where it is too long for its bar."""
        room = room_on(self.job.stock[bar], self.job) + FITS
        kept = times.copy()
        while kept.sum() > 1 and self._used(kept) > room:
            kept[np.flatnonzero(kept)[-1]] -= 1.0  # items stand in the order of their lengths, longest first
        return Pattern(bar, kept)

    def _used(self, times: np.ndarray) -> float:
        names = [item.names[0][0] for item, n in zip(self.items, times, strict=True) for _ in range(round(n))]
        return self.order.used(names) + self.extra_gap * (len(names) - 1)

    def _alone(self, k: int, item: Item) -> list[Pattern]:
        """As many of one item as each bar takes, to begin with."""
        found = []
        for b, room in enumerate(self.lengths.rooms):
            times = np.zeros(len(self.items))
            times[k] = min(item.count, max(1, (room // item.length)))
            if item.length <= room:
                found.append(Pattern(b, times))
        return found

    def _priced(self, wanted: np.ndarray, *, share: float, is_whole: bool) -> bool:
        """Makes patterns until none is worth more than its bar costs; whether it came to that."""
        until = time.monotonic() + share * max(0.0, self.left)
        for _ in range(MOST_ROUNDS):
            solved = self.programme.prices(wanted)
            if solved is None:
                return False
            prices, scarce, value = solved
            found = best_patterns(self.lengths, prices, self.lengths.rooms)
            better = [
                Pattern(b, times)
                for b, (worth, patterns) in enumerate(found)
                if worth > self.costs[b] + scarce[b] + NOISE * (1.0 + self.costs[b])
                for times in patterns
            ]
            fresh = self.programme.add(better)
            if not fresh:
                if is_whole:
                    self._prove(prices, scarce, value)
                return True
            if time.monotonic() > until:
                if is_whole:
                    self._prove(prices, scarce, value)
                return False
        return False

    def _prove(self, prices: np.ndarray, scarce: np.ndarray, value: float) -> None:
        """The lower bound that the prices give.

        Source: Farley, Operations Research 38 (1990): prices divided by how far the best pattern exceeds its cost are
        prices that no pattern exceeds, from memory.
        """
        if min(self.costs) <= 0.0:
            return
        loose = best_patterns(self.lengths.rounded_loosely, prices, self.lengths.rounded_loosely.rooms)
        excess = max((worth - scarce[b]) / self.costs[b] for b, (worth, _) in enumerate(loose) if math.isfinite(worth))
        bound = value / max(1.0, excess)
        step = _step(self.costs)
        if step > 0.0:
            bound = math.ceil(bound / step - 1e-6) * step
        self._raise_bound(bound)

    def _raise_bound(self, bound: float) -> None:
        self.bound = bound if self.bound is None else max(bound, self.bound)

    def _is_proven(self) -> bool:
        if self.best is None or self.best.missing.sum() or self.bound is None:
            return False
        return self.best.cost <= self.bound * (1.0 + 1e-9)

    def _choose(self, report: Callable[[list[BarLayout]], None], seconds: Seconds) -> None:
        chosen = self.programme.chosen(max(0.05, seconds), self.rng)
        if chosen is not None and (self.best is None or chosen.is_better_than(self.best)):
            self.best = chosen
            report(self._layouts(chosen))

    def _fill_by_chance(self, seconds: Seconds) -> None:
        """Nearly full bars with no piece oftener than wanted: of those wanted once, priced patterns hold too many."""
        until, found = time.monotonic() + seconds, 0
        pieces = np.repeat(np.arange(len(self.items)), self.wanted.astype(int))
        if len(pieces) > MOST_BY_CHANCE:
            return
        while time.monotonic() < until and found < MOST_FILLS:
            bar = int(self.rng.integers(len(self.job.stock)))
            room = room_on(self.job.stock[bar], self.job)
            times, used = np.zeros(len(self.items)), 0.0
            for k in self.rng.permutation(pieces):
                times[k] += 1.0
                longer = self._used(times)
                if longer > room + FITS:
                    times[k] -= 1.0
                else:
                    used = longer
            if used >= FULL * room:
                found += self.programme.add([Pattern(bar, times)])

    def _dive(self) -> None:
        """Patterns for what is left once the likeliest are taken for good: the programme then has ways to end well."""
        wanted = self.wanted.copy()
        while wanted.sum() > 0 and self.left > 0.1:
            shares = self.programme.shares(wanted)
            if shares is None:
                return
            whole = np.floor(shares + 1e-6)
            if not whole.any():
                # The likeliest pattern once more, by chance one that is nearly as likely.
                tilted = shares * self.rng.uniform(0.7, 1.0, len(shares))
                whole[int(np.argmax(tilted))] = 1.0
            made = self.programme.matrix @ whole
            if not (np.minimum(made, wanted) > 0).any():
                return
            wanted = np.maximum(0.0, wanted - made)
            if wanted.sum() > 0:
                self._priced(wanted, share=0.2, is_whole=False)

    def _layouts(self, chosen: Chosen) -> list[BarLayout]:
        layouts = []
        names = self.lengths.names_in_turn()
        for b, times, copies in chosen.bars:
            for some, each in names.shared_out(times, copies):
                fitting = self._fitting(some, b)
                layouts.append(self.order.lay(self.job.stock[b], fitting, each))
        return layouts

    def _fitting(self, names: list[str], b: int) -> list[str]:
        """The names, without the last ones where they do not fit after all."""
        room = room_on(self.job.stock[b], self.job) + FITS
        while names and self.order.used(names) + self.extra_gap * (len(names) - 1) > room:
            names = names[:-1]
        return names


def _step(costs: np.ndarray) -> float:
    """What every sum of the costs is a multiple of, to a thousandth; 0 where there is none."""
    thousandths = [Fraction(float(cost)).limit_denominator(10**6) * 1000 for cost in costs]
    if any(each.denominator != 1 for each in thousandths):
        return 0.0
    return math.gcd(*(int(each) for each in thousandths)) / 1000.0
