"""Chooses which of the parts at hand go on one sheet, so that together they have about the bulk that it can take.

Each part is taken in proportion to what is there of it, so that every sheet has its share of large and of small parts;
what proportion leaves open is left to chance. Where parts are due at different times, all that is due first is taken
before anything else.
"""

import random
from collections import Counter
from collections.abc import Mapping

from nesting.units import Mm2

TRIES = 60
"""Exchanges tried to come nearer to the wanted bulk."""


def choose(
    counts: Mapping[str, int],
    bulk: Mapping[str, Mm2],
    target: Mm2,
    chance: random.Random,
    copies: int = 1,
    ranks: Mapping[str, int] | None = None,
) -> Counter[str]:
    """How many of each to lay on one sheet that is cut `copies` times; their bulk is at most the target.

    `ranks` says in which order parts are due, the least first.
    """
    chosen: Counter[str] = Counter()
    slack = target
    for rank in sorted({ranks[name] for name in counts}) if ranks else ():
        due = {name: count for name, count in counts.items() if (ranks or {})[name] == rank}
        chosen += _choose_alike(due, bulk, slack, chance, copies)
        slack = target - sum(bulk[name] * count for name, count in chosen.items())
    return chosen if ranks else _choose_alike(counts, bulk, target, chance, copies)


def _choose_alike(
    counts: Mapping[str, int], bulk: Mapping[str, Mm2], target: Mm2, chance: random.Random, copies: int
) -> Counter[str]:
    there = {name: count // copies for name, count in counts.items() if count >= copies}
    total = sum(bulk[name] * count for name, count in counts.items())
    chosen: Counter[str] = Counter()
    if total <= 0:
        return chosen
    share = min(1.0, target / total)
    rests = []
    for name, most in there.items():
        wanted = counts[name] * share
        chosen[name] = min(most, int(wanted))
        if chosen[name] < most:
            rests.append((chance.random() - (wanted - int(wanted)), name))
    slack = target - sum(bulk[name] * count for name, count in chosen.items())
    for _, name in sorted(rests):
        if bulk[name] <= slack and chosen[name] < there[name]:
            chosen[name] += 1
            slack -= bulk[name]
    return +_nearer(chosen, there, bulk, slack, chance)


def _nearer(
    chosen: Counter[str], there: Mapping[str, int], bulk: Mapping[str, Mm2], slack: Mm2, chance: random.Random
) -> Counter[str]:
    """The choice with parts added and exchanged by chance, as long as that brings it nearer to the target."""
    names = list(there)
    for _ in range(TRIES if names else 0):
        more = chance.choice(names)
        if chosen[more] >= there[more]:
            continue
        if bulk[more] <= slack:
            chosen[more] += 1
            slack -= bulk[more]
            continue
        less = chance.choice(names)
        gain = bulk[more] - bulk[less]
        if chosen[less] and 0 < gain <= slack:
            chosen[more] += 1
            chosen[less] -= 1
            slack -= gain
    return chosen


def choose_instead(
    there: Mapping[str, int],
    counts: Mapping[str, int],
    bulk: Mapping[str, Mm2],
    target: Mm2,
    chance: random.Random,
    copies: int = 1,
    *,
    keep: bool = False,
) -> Counter[str]:
    """What a sheet may hold instead of what is there, with so much more bulk at most: parts of `counts` are added to
    it, or stand in for smaller ones. All that is there stays with `keep`.
    """
    more = +Counter({name: count // copies for name, count in counts.items()})
    if keep:
        return Counter(there) + _nearer(Counter(), more, bulk, target, chance)
    return +_nearer(Counter(there), Counter(there) + more, bulk, target, chance)
