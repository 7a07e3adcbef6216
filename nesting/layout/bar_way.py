"""The best ways to fill a bar for given prices of pieces, with what facing ends save: for `engines.bar_patterns`.

Lengths are whole units of a hundredth of a millimetre, each piece with a gap behind it. For every length used and every
kind of end that may come last the best sum of prices is kept. Lengths are taken in blocks so short that no piece leads
from one length of a block to another, so each block is a few sums over arrays.
"""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.layout.joints import Joints
from nesting.model.nest import BarJob
from nesting.units import Mm

PER_MM = 100
SAME_UNIT = 1e-4
"""Share of a unit that is noise: a micrometre at most over a bar, which the checker forgives."""

MOST_CELLS = 40_000_000
"""Sums for one set of prices; longer bars with more kinds are worked out in coarser units."""

type Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Item:
    """Pieces that are alike for a bar: one length in units, and the same ways to lie. `names` are those of parts."""

    length: int
    ways: tuple[tuple[int, int], ...]
    """Kinds of the near and the far end."""
    count: int
    names: tuple[tuple[str, int], ...]


class Lengths:
    """A job in units: pieces rounded up, bars and savings down, or `loosely` the other way round, for bounds."""

    def __init__(self, job: BarJob, joints: Joints, extra_gap: Mm = 0.0, *, loosely: bool = False) -> None:
        self._job, self._joints, self._extra = job, joints, 0.0 if loosely else extra_gap
        self._loosely = loosely
        kinds = joints.kind_count
        ways = {name: tuple(sorted((w.near, w.far) for w in found)) for name, found in joints.ways.items()}
        longest = max((bar.length for bar in job.stock), default=0.0)
        cells = longest * PER_MM * (sum(len(w) for w in ways.values()) + kinds**2)
        self.per_mm = PER_MM if cells <= MOST_CELLS else max(1.0, PER_MM * MOST_CELLS / cells)
        up, down = (self._down, self._up) if loosely else (self._up, self._down)
        gap = job.rules.gap + self._extra
        self.saved = np.array(
            [[down(max(0.0, joints.saved(far, near))) for near in range(kinds)] for far in range(kinds)], dtype=int
        )
        found: dict[tuple[int, tuple[tuple[int, int], ...]], list[tuple[str, int]]] = defaultdict(list)
        for demand in job.demands:
            if demand.count and ways[demand.part.name]:
                found[up(demand.part.length + gap), ways[demand.part.name]].append((demand.part.name, demand.count))
        self.items = tuple(
            Item(length, lies, sum(count for _, count in names), tuple(names))
            for (length, lies), names in sorted(found.items(), reverse=True)
        )
        held = job.rules.dead_end + job.rules.lead_end
        self.rooms = [down(bar.length - held + gap) for bar in job.stock]

    def _up(self, length: Mm) -> int:
        return math.ceil(length * self.per_mm - SAME_UNIT)

    def _down(self, length: Mm) -> int:
        return math.floor(length * self.per_mm + SAME_UNIT)

    @cached_property
    def rounded_loosely(self) -> "Lengths":
        """The same items in the same order with no length above the true one and no saving or room below it."""
        loose = Lengths(self._job, self._joints, loosely=True)
        # Items that differ by less than a unit may have fallen together or changed places.
        other = {name: item.length for item in loose.items for name, _ in item.names}
        loose.items = tuple(
            Item(min(other[name] for name, _ in item.names), item.ways, item.count, item.names) for item in self.items
        )
        return loose

    def names_in_turn(self) -> "NamesInTurn":
        return NamesInTurn(self.items)


class NamesInTurn:
    """Gives the names of an item's parts out, each as often as it is wanted."""

    def __init__(self, items: tuple[Item, ...]) -> None:
        self._left = [[[name, count] for name, count in item.names] for item in items]

    def shared_out(self, times: Numbers, copies: int) -> Iterator[tuple[list[str], int]]:
        """The names on each bar of a pattern that is cut `copies` times, equal bars together."""
        left = copies
        while left > 0:
            names, each = self._next(times, left)
            yield names, each
            left -= each

    def _next(self, times: Numbers, most: int) -> tuple[list[str], int]:
        """The names of the next bar, and how many bars may have the very same."""
        taken: list[tuple[list[object], int]] = []
        for k, wanted in enumerate(times):
            need = round(wanted)
            for row in self._left[k]:
                use = min(need, int(str(row[1])))
                if use:
                    taken.append((row, use))
                    need -= use
                if not need:
                    break
        each = max(1, min([most, *(int(str(row[1])) // use for row, use in taken)]))
        for row, use in taken:
            row[1] = int(str(row[1])) - use * each
        return [str(row[0]) for row, use in taken for _ in range(use)], each


def best_patterns(lengths: Lengths, prices: Numbers, rooms: list[int]) -> list[tuple[float, list[Numbers]]]:
    """For each room the greatest sum of prices that it holds, and the patterns with the best of each last end."""
    table = _Table(lengths, prices, max(rooms, default=0))
    answers = []
    for room in rooms:
        found = table.best_within(room)
        answers.append((max((worth for worth, *_ in found), default=0.0), [table.pattern(*each[1:]) for each in found]))
    return answers


class _Table:
    def __init__(self, lengths: Lengths, prices: Numbers, room: int) -> None:
        self._saved, self._prices, self._room = lengths.saved, prices, max(0, room)
        self._items = lengths.items
        kinds = len(lengths.saved)
        self._start = kinds
        """The state of an empty bar, behind which nothing is saved."""
        worth = [k for k, item in enumerate(self._items) if prices[k] > 0.0 and item.length <= self._room]
        self._steps = [(k, near, far) for k in worth for near, far in self._items[k].ways]
        most = [int(self._saved[:, near].max()) for near in range(kinds)]
        net = [self._items[k].length - most[near] for k, near, _ in self._steps]
        self._block = max(1, min(net, default=1))
        self._worth = np.full((kinds + 1, self._room + 1), -np.inf)
        self._worth[self._start, 0] = 0.0
        if self._steps and min(net) > 0:
            self._fill(kinds, most)

    def _fill(self, kinds: int, most: list[int]) -> None:
        """`open_at[near][q]` is the best that a piece with that near end may follow, were it to begin at q."""
        nears = sorted({near for _, near, _ in self._steps})
        fars = sorted({far for *_, far in self._steps})
        open_at = {near: np.full(self._room + 1, -np.inf) for near in nears}
        done = dict.fromkeys(nears, 0)
        shortest = min(self._items[k].length - most[near] for k, near, _ in self._steps)
        for first in range(shortest, self._room + 1, self._block):
            last = min(first + self._block, self._room + 1)
            for near in nears:
                # All that lies before `first` is known, and so is what may follow it.
                upto = max(done[near], min(self._room + 1, first - most[near]))
                if upto > done[near]:
                    self._open(open_at[near], near, fars, done[near], upto)
                    done[near] = upto
            for k, near, far in self._steps:
                length = self._items[k].length
                low, high = max(first, length), min(last, done[near] + length)
                if low < high:
                    row = self._worth[far, low:high]
                    np.maximum(row, open_at[near][low - length : high - length] + self._prices[k], out=row)

    def _open(self, row: Numbers, near: int, fars: list[int], low: int, high: int) -> None:
        part = row[low:high]
        np.maximum(part, self._worth[self._start, low:high], out=part)
        for far in fars:
            saved = int(self._saved[far, near])
            end = min(self._room + 1, high + saved)
            if low + saved < end:
                some = part[: end - low - saved]
                np.maximum(some, self._worth[far, low + saved : end], out=some)

    def best_within(self, room: int) -> list[tuple[float, int, int]]:
        """Worth, last end and length used of the best ways, for each kind of last end the one."""
        found = []
        for far in range(self._start):
            row = self._worth[far, : min(room, self._room) + 1]
            at = int(np.argmax(row)) if len(row) else 0
            if len(row) and row[at] > 0.0:
                found.append((float(row[at]), far, at))
        return sorted(found, reverse=True)

    def pattern(self, far: int, at: int) -> Numbers:
        """How many of each item lie on the bar that this way fills."""
        times = np.zeros(len(self._items))
        while at > 0:
            worth = self._worth[far, at]
            best: tuple[float, int, int, int] | None = None
            for k, near, end in self._steps:
                begin = at - self._items[k].length
                if end != far:
                    continue
                for before in range(self._start + 1):
                    was = begin + (0 if before == self._start else int(self._saved[before, near]))
                    if not 0 <= was < at or (before == self._start and begin != 0):
                        continue
                    off = abs(self._worth[before, was] + self._prices[k] - worth)
                    if best is None or off < best[0]:
                        best = (off, k, before, was)
            if best is None or not math.isfinite(best[0]):
                break
            _, k, far, at = best
            times[k] += 1.0
            if far == self._start:
                break
        return times
