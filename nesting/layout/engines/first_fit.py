"""Pieces on bars one bar after another, longest first or shortest first. Always available, and there in a moment.

Longest first wastes little (first-fit decreasing, done bar by bar); shortest first lays the most pieces where bars are
short. Of several kinds of bar each next one is the cheapest for what it takes. Mitres count with their whole length;
what they save where they lie against each other is left at the end of the bar.
"""

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable

from nesting.layout.bar_order import BarOrder
from nesting.layout.joints import Joints
from nesting.model.nest import BarJob, BarLayout
from nesting.model.stock import Bar
from nesting.units import Mm

HAIR: Mm = 1e-7
"""Forgiven in a comparison of lengths: float noise, far below what the checker sees."""


def room_on(bar: Bar, job: BarJob) -> Mm:
    """The length of a bar that pieces may take up, gaps between them included."""
    return bar.length - job.rules.dead_end - job.rules.lead_end


def lay_first_fit(job: BarJob, *, longest_first: bool, is_over: Callable[[], bool]) -> tuple[BarLayout, ...]:
    """Layouts with as many of the job's pieces as this way can lay; what has been made when `is_over` says so."""
    queue, order = _Queue(job, longest_first=longest_first), BarOrder(job, Joints(job))
    at_hand = {bar.name: bar.count for bar in job.stock}
    layouts: list[BarLayout] = []
    while queue.total and not is_over():
        tries: list[tuple[tuple[bool, float], Bar, list[str]]] = []
        for bar in job.stock:
            names = queue.filled(room_on(bar, job)) if at_hand[bar.name] != 0 else []
            if names:
                takes_all = len(names) == queue.total
                filled = math.fsum(queue.length[name] for name in names)
                tries.append(((not takes_all, bar.price if takes_all else bar.price / filled), bar, names))
        if not tries:
            break
        _, bar, names = min(tries, key=lambda each: each[0])
        copies = queue.take(Counter(names), at_hand[bar.name])
        count = at_hand[bar.name]
        if count is not None:
            at_hand[bar.name] = count - copies
        layouts.append(order.lay(bar, names, copies))
    return tuple(layouts)


class _Queue:
    """The pieces still to lay in their order. Only those that are left and fit are looked at: of thousands of kinds a
    bar takes few.
    """

    def __init__(self, job: BarJob, *, longest_first: bool) -> None:
        self.length = {demand.part.name: demand.part.length for demand in job.demands}
        self._left = {demand.part.name: demand.count for demand in job.demands if demand.count}
        self._gap = job.rules.gap
        self._sign = -1.0 if longest_first else 1.0
        self._order = sorted((self._sign * self.length[name], name) for name in self._left)
        self.total = sum(self._left.values())

    def filled(self, room: Mm) -> list[str]:
        """The pieces that a bar with so much room takes, in their order."""
        names: list[str] = []
        room += self._gap  # as if a gap came behind each piece, the last one too
        i = 0
        while i < len(self._order):
            if self._sign < 0:
                i = bisect_left(self._order, (-(room + HAIR - self._gap), ""), i)
                if i == len(self._order):
                    break
            name = self._order[i][1]
            take = self.length[name] + self._gap
            count = min(self._left[name], math.floor((room + HAIR) / take))
            if count == 0 and self._sign > 0:
                break
            names += [name] * count
            room -= count * take
            i += 1
        return names

    def take(self, used: Counter[str], at_hand: int | None) -> int:
        """Takes what one bar holds as often as pieces and bars last: the next bar would come out the same anyway."""
        copies = min(self._left[name] // count for name, count in used.items())
        copies = copies if at_hand is None else min(copies, at_hand)
        for name, each in used.items():
            self._left[name] -= copies * each
            self.total -= copies * each
            if not self._left[name]:
                del self._order[bisect_left(self._order, (self._sign * self.length[name], name))]
        return copies
