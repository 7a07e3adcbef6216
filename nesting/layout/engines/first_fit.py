"""Pieces on bars one bar after another, longest first or shortest first. Always available, and there in a moment.

Longest first wastes little (first-fit decreasing, done bar by bar); shortest first lays the most pieces where bars are
short. Of several kinds of bar each next one is the cheapest for what it takes.
"""

import math
from collections import Counter
from collections.abc import Callable

from nesting.model.nest import BarJob, BarLayout, Piece
from nesting.model.stock import Bar
from nesting.units import Mm

HAIR: Mm = 1e-7
"""Forgiven in a comparison of lengths: float noise, far below what the checker sees."""


def room_on(bar: Bar, job: BarJob) -> Mm:
    """The length of a bar that pieces may take up, gaps between them included."""
    return bar.length - job.rules.dead_end - job.rules.lead_end


def lay_first_fit(job: BarJob, *, longest_first: bool, is_over: Callable[[], bool]) -> tuple[BarLayout, ...]:
    """Layouts with as many of the job's pieces as this way can lay; what has been made when `is_over` says so."""
    length = {demand.part.name: demand.part.length for demand in job.demands}
    left = {demand.part.name: demand.count for demand in job.demands}
    order = sorted(left, key=lambda name: (-length[name] if longest_first else length[name], name))
    at_hand = {bar.name: bar.count for bar in job.stock}
    layouts: list[BarLayout] = []
    while any(left.values()) and not is_over():
        tries: list[tuple[tuple[bool, float], Bar, list[str]]] = []
        for bar in job.stock:
            names = _filled(room_on(bar, job), job.rules.gap, order, length, left) if at_hand[bar.name] != 0 else []
            if names:
                takes_all = len(names) == sum(left.values())
                filled = math.fsum(length[name] for name in names)
                tries.append(((not takes_all, bar.price if takes_all else bar.price / filled), bar, names))
        if not tries:
            break
        _, bar, names = min(tries, key=lambda each: each[0])
        used = Counter(names)
        # The same bar again as long as the pieces last: it would come out the same anyway.
        copies = min(left[name] // count for name, count in used.items())
        count = at_hand[bar.name]
        if count is not None:
            copies = min(copies, count)
            at_hand[bar.name] = count - copies
        for name, each in used.items():
            left[name] -= copies * each
        layouts.append(bar_with(bar, names, job, copies))
    return tuple(layouts)


def bar_with(bar: Bar, names: list[str], job: BarJob, copies: int) -> BarLayout:
    """The bar with the named pieces from the front, in their order."""
    length = {demand.part.name: demand.part.length for demand in job.demands}
    pieces = []
    start = job.rules.lead_end
    for name in names:
        pieces.append(Piece(name, start))
        start += length[name] + job.rules.gap
    return BarLayout(bar.name, tuple(pieces), copies)


def _filled(room: Mm, gap: Mm, order: list[str], length: dict[str, Mm], left: dict[str, int]) -> list[str]:
    names: list[str] = []
    room += gap  # as if a gap came behind each piece, the last one too
    for name in order:
        count = min(left[name], math.floor((room + HAIR) / (length[name] + gap)))
        names += [name] * count
        room -= count * (length[name] + gap)
    return names
