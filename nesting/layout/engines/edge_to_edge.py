"""Lays few rectangles into one with hardly any waste, by trying all ways: what a jigsaw of rectangles asks for.

Lengths are whole numbers. The rectangle is filled from the left: of the stretches that its filling ends in, the one
least far to the right, lowest first, gets a piece into its lower corner, or is written off as waste up to its nearer
neighbour. Where nothing may be wasted that finds every packing there is; with some waste it misses those that waste a
corner below a piece.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

FEW_UNITS = 4096
"""Up to so many units of height, sums of the pieces left are worked out: they tell what can still be filled."""

ASK_EVERY = 256
"""Steps between two looks at the clock."""

FIRST_STEPS = 4000
MORE_STEPS = 1.2
"""How many steps the first order of pieces gets, and how many times as many each further one."""

MIXED = 0.7
"""How far the order is mixed: a piece may be taken for one of down to 0.3 of its area."""

MOST_KEPT = 300_000
"""States known to lead nowhere that are kept, some 200 MB of them."""


@dataclass(frozen=True)
class Rectangle:
    """So many rectangles, `width` along the length that is filled; `may_turn` lets them lie by a quarter turn."""

    width: int
    height: int
    count: int = 1
    may_turn: bool = True


@dataclass(frozen=True)
class Laid:
    """A rectangle by its place in the list, its lower left corner, and whether it lies by a quarter turn."""

    index: int
    x: int
    y: int
    turned: bool


class _Stretch(NamedTuple):
    """From `bottom` upwards for `height`, all to the left of `x` is filled or written off."""

    x: int
    bottom: int
    height: int


type _Line = tuple[_Stretch, ...]


def edge_to_edge(
    pieces: Sequence[Rectangle], length: int, height: int, chance: random.Random, is_over: Callable[[], bool]
) -> list[Laid] | None:
    """All the pieces in a rectangle; None where there is no way, none was found, or the time ran out.

    With no room to waste, an answer is found for sure where there is one and time enough. The order in which pieces are
    tried decides how soon, so after some steps another order is taken, each time after some more.
    """
    waste = length * height - sum(piece.count * piece.width * piece.height for piece in pieces)
    if waste < 0:
        return None
    search = _Search(pieces, length, height, is_over)
    limit = float(FIRST_STEPS)
    while True:
        if search.fill((_Stretch(0, 0, height),), waste):
            return search.laid
        if not search.is_stopped or is_over():
            return None
        limit *= MORE_STEPS
        search.begin_again(chance, int(limit))


class _Search:
    def __init__(self, pieces: Sequence[Rectangle], length: int, height: int, is_over: Callable[[], bool]) -> None:
        self.pieces, self.length, self.is_over = pieces, length, is_over
        self.can_sum = height <= FEW_UNITS
        self.left = [piece.count for piece in pieces]
        self.remaining = sum(self.left)
        self.laid: list[Laid] = []
        self.steps, self.limit, self.is_stopped = 0, FIRST_STEPS, False
        self.failed: set[tuple[_Line, tuple[int, ...]]] = set()
        ways = chain(
            ((index, piece.width, piece.height, False) for index, piece in enumerate(pieces)),
            ((i, p.height, p.width, True) for i, p in enumerate(pieces) if p.may_turn and p.width != p.height),
        )
        # Large pieces first: the small ones find their place at the end. Of each: along, across, and whether turned.
        self.ways = sorted(ways, key=lambda way: (-way[1] * way[2], -way[2], way[0]))

    def begin_again(self, chance: random.Random, limit: int) -> None:
        """Makes ready for another order, in which large pieces still tend to come first."""
        self.ways.sort(key=lambda way: -way[1] * way[2] * chance.uniform(1.0 - MIXED, 1.0))
        self.steps, self.limit, self.is_stopped = 0, limit, False

    def fill(self, line: _Line, waste: int) -> bool:
        """Whether all that is left goes behind the line with no more wasted; then `laid` says how."""
        if self.remaining == 0:
            return True
        if self.is_stopped:
            return False
        self.steps += 1
        if self.steps > self.limit or (self.steps % ASK_EVERY == 0 and self.is_over()):
            self.is_stopped = True
            return False
        # The same pieces often come to the same line in another order. The waste follows from both.
        state = (line, tuple(self.left))
        if state in self.failed:
            return False
        is_found = self._go_on(line, waste)
        if not is_found and not self.is_stopped and len(self.failed) < MOST_KEPT:
            self.failed.add(state)
        return is_found

    def _go_on(self, line: _Line, waste: int) -> bool:
        at = min(range(len(line)), key=lambda i: (line[i].x, i))
        stretch = line[at]
        sums = self._sums(stretch.height) if self.can_sum and waste < stretch.height else None
        for index, along, across, turned in self.ways:
            above = stretch.height - across
            if not self.left[index] or above < 0 or stretch.x + along > self.length:
                continue
            # What cannot be filled to its top wastes a unit's depth of the rest at least.
            if sums is not None and above - ((sums & ((2 << above) - 1)).bit_length() - 1) > waste:
                continue
            self.left[index] -= 1
            self.remaining -= 1
            self.laid.append(Laid(index, stretch.x, stretch.bottom, turned))
            if self.fill(_moved(line, at, along, across), waste):
                return True
            self.laid.pop()
            self.remaining += 1
            self.left[index] += 1
            if self.is_stopped:
                return False
        beside = (line[i].x for i in (at - 1, at + 1) if 0 <= i < len(line))
        step = min(beside, default=self.length) - stretch.x
        if step * stretch.height > waste or step == 0:
            return False
        return self.fill(_moved(line, at, step, stretch.height), waste - step * stretch.height)

    def _sums(self, height: int) -> int:
        """Bit k says whether pieces that are left may stand on one another to a height of k."""
        sums, mask = 1, (2 << height) - 1
        for piece, left in zip(self.pieces, self.left, strict=True):
            for _ in range(min(left, height)):
                more = sums | sums << piece.height | (sums << piece.width if piece.may_turn else 0)
                if more & mask == sums:
                    break
                sums = more & mask
        return sums


def _moved(line: _Line, at: int, along: int, across: int) -> _Line:
    """The line with the lower part of one stretch, `across` high, moved to the right; stretches of one x are joined."""
    stretch = line[at]
    moved = [_Stretch(stretch.x + along, stretch.bottom, across)]
    if across < stretch.height:
        moved.append(_Stretch(stretch.x, stretch.bottom + across, stretch.height - across))
    found: list[_Stretch] = []
    for each in (*line[:at], *moved, *line[at + 1 :]):
        if found and found[-1].x == each.x:
            found[-1] = _Stretch(each.x, found[-1].bottom, found[-1].height + each.height)
        else:
            found.append(each)
    return tuple(found)
