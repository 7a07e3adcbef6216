"""The cheapest sheets that together offer a stated room, and the most room for a stated price: sums only, no shapes.

Sheets of a kind are whole, and limited where their count is. The cheapest choice is sought by branch and bound over
the fractional choice, which takes kinds in the order of their price for their room; when it is given up, the bound
that is still open is returned, so the answer is never above the truth.
"""

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.units import Mm2

MOST_NODES = 400
"""Choices looked at; jobs have some few kinds of sheet and are done within ten."""

NOISE = 1e-9
"""Share of a sum that is float noise."""

MONEY_NOISE = 1e-12
"""The same of some prices: many sheets' room follows from it, so it is kept small."""


@dataclass(frozen=True)
class Kind:
    """`count` sheets (infinite where as many as needed) of this room at this price each."""

    room: Mm2
    price: float
    count: float = math.inf


def least_cost(kinds: Sequence[Kind], need: Mm2) -> float | None:
    """What sheets with that much room cost at least; None where all there are have too little."""
    kinds = _by_price_for_room(kinds)
    first = _filled(kinds, [0.0] * len(kinds), [kind.count for kind in kinds], need)
    if first is None:
        return None
    waiting = [(first[0], 0, [0.0] * len(kinds), [kind.count for kind in kinds], first[1])]
    for number in range(1, MOST_NODES):
        cost, _, least, most, split = waiting[0]
        if split is None:
            return cost
        heapq.heappop(waiting)
        at, amount = split
        for low, high in ((least[at], float(math.floor(amount))), (float(math.ceil(amount)), most[at])):
            fewest, fullest = [*least], [*most]
            fewest[at], fullest[at] = low, high
            found = _filled(kinds, fewest, fullest, need)
            if found is not None:
                heapq.heappush(waiting, (found[0], 2 * number + (low > amount), fewest, fullest, found[1]))
    return waiting[0][0]


def least_share_cost(kinds: Sequence[Kind], need: Mm2) -> float | None:
    """As `least_cost`, where sheets could be bought in any share."""
    kinds = _by_price_for_room(kinds)
    found = _filled(kinds, [0.0] * len(kinds), [kind.count for kind in kinds], need)
    return None if found is None else found[0]


def fewest(kinds: Sequence[Kind], need: Mm2) -> int | None:
    """How many sheets that much room takes at least; None where all there are have too little."""
    taken, left = 0, need
    for kind in sorted(kinds, key=lambda kind: -kind.room):
        whole = max(0.0, math.ceil(left / kind.room - NOISE)) if left > 0.0 else 0.0
        count = min(whole, kind.count)
        taken, left = taken + int(count), left - count * kind.room
    return None if left > NOISE * max(1.0, need) else taken


def most_room(kinds: Sequence[Kind], money: float) -> Mm2:
    """No sheets for that money have more room. May be infinite, where sheets without a price are as many as needed."""
    room, left = 0.0, money * (1.0 + MONEY_NOISE)
    for kind in _by_price_for_room(kinds):
        if kind.count <= 0:
            continue
        if kind.price <= 0.0:
            room += kind.room * kind.count
            continue
        count = min(kind.count, left / kind.price)
        room, left = room + count * kind.room, left - count * kind.price
    return room


def _by_price_for_room(kinds: Sequence[Kind]) -> list[Kind]:
    return sorted(kinds, key=lambda kind: kind.price / kind.room)


def _filled(
    kinds: Sequence[Kind], least: Sequence[float], most: Sequence[float], need: Mm2
) -> tuple[float, tuple[int, float] | None] | None:
    """The cost of the cheapest fractional choice within these counts, and the kind of which it takes a fraction with
    the amount; None where even the most is too little.
    """
    if any(low > high for low, high in zip(least, most, strict=True)):
        return None
    cost = math.fsum(kind.price * low for kind, low in zip(kinds, least, strict=True))
    left = need - math.fsum(kind.room * low for kind, low in zip(kinds, least, strict=True))
    split = None
    for at, kind in enumerate(kinds):
        if left <= NOISE * need:
            break
        wanted = left / kind.room
        count = min(most[at] - least[at], wanted)
        whole = round(count)
        if abs(count - whole) <= NOISE * max(1.0, count):
            count = float(whole)
        cost, left = cost + count * kind.price, left - count * kind.room
        if count != whole:
            split = (at, least[at] + count)
    return None if left > NOISE * need else (cost, split)
