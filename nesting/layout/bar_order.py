"""Puts the pieces of one bar in order: so that mitres save most, and then as the rules want long ones to lie.

The order that saves most is found step by step over how many pieces of each kind are laid and how the last one ends;
where there are too many such states the best are kept. Pieces between which nothing is saved may change places, so they
follow the rules' order of lengths, and so do equal ones in a chain.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.layout.joints import SAVES, Joints, Way
from nesting.model.nest import BarJob, BarLayout, Piece, PieceOrder
from nesting.model.stock import Bar
from nesting.units import Mm

MOST_STEPS = 40_000
"""Looks at a further piece for one bar; beyond it only the best states are kept."""

type Ends = frozenset[tuple[int, int]]
"""The kinds of near and far end, for each way that a part may lie."""


@dataclass(frozen=True)
class Step:
    """A state on the way to a whole bar: what was laid last, and what all joints save so far."""

    saved: Mm
    ends: Ends
    way: tuple[int, int]
    before: "Step | None"


class BarOrder:
    """Lays bars of one job; equal bars are thought over once."""

    def __init__(self, job: BarJob, joints: Joints) -> None:
        self._job, self._joints = job, joints
        self.parts = {demand.part.name: demand.part for demand in job.demands}
        self._ends: dict[str, Ends] = {
            name: frozenset((way.near, way.far) for way in ways) for name, ways in joints.ways.items()
        }
        self._known: dict[frozenset[tuple[Ends, int]], tuple[Mm, list[tuple[Ends, tuple[int, int]]]]] = {}

    def used(self, names: Sequence[str]) -> Mm:
        """The length of bar that the pieces take, from the first one's start to the last one's end."""
        plain = sum(self.parts[name].length + self._joints.gap for name in names) - self._joints.gap
        return plain - self._best(names)[0] if names else 0.0

    def lay(self, bar: Bar, names: Sequence[str], copies: int) -> BarLayout:
        """The bar with the named pieces from the front, in the order that takes least."""
        pieces: list[Piece] = []
        joints, start, before, behind = self._joints, self._job.rules.lead_end, None, 0.0
        for name, way in self._in_order(names):
            turn, far = joints.turned_to(before, way)
            if pieces:
                near = way.near_face and way.near_face.turned(turn - way.turn)
                start = behind + joints.gap - joints.saved_by(before, near)
            pieces.append(Piece(name, start, way.flipped, turn))
            before, behind = far, start + self.parts[name].length
        return BarLayout(bar.name, tuple(pieces), copies)

    def _in_order(self, names: Sequence[str]) -> list[tuple[str, Way]]:
        if not self._joints.may_save:
            return [(name, self._joints.ways[name][0]) for name in self._by_length(names)]
        waiting: dict[Ends, list[str]] = defaultdict(list)
        for name in self._by_length(names):
            waiting[self._ends[name]].append(name)
        chains: list[list[tuple[str, Way]]] = []
        before: Way | None = None
        for ends, kinds in self._best(names)[1]:
            name = waiting[ends].pop(0)
            way = next(way for way in self._joints.ways[name] if (way.near, way.far) == kinds)
            if before is None or self._joints.saved(before.far, way.near) <= SAVES:
                chains.append([])
            chains[-1].append((name, way))
            before = way
        if self._job.rules.order is not PieceOrder.ANY:
            chains.sort(
                key=lambda chain: max(self.parts[name].length for name, _ in chain),
                reverse=self._job.rules.order is PieceOrder.LONGEST_FIRST,
            )
        return [each for chain in chains for each in chain]

    def _by_length(self, names: Sequence[str]) -> list[str]:
        """In the rules' order; of equally long pieces those of one part stay together."""
        if self._job.rules.order is PieceOrder.ANY:
            return list(names)
        sign = -1.0 if self._job.rules.order is PieceOrder.LONGEST_FIRST else 1.0
        rank = {name: k for k, name in enumerate(self.parts)}
        return sorted(names, key=lambda name: (sign * self.parts[name].length, rank[name]))

    def _best(self, names: Sequence[str]) -> tuple[Mm, list[tuple[Ends, tuple[int, int]]]]:
        """The most that can be saved, and the ends in their order."""
        counts = Counter(self._ends[name] for name in names)
        key = frozenset(counts.items())
        if key not in self._known:
            self._known[key] = self._searched(counts)
        return self._known[key]

    def _searched(self, counts: Mapping[Ends, int]) -> tuple[Mm, list[tuple[Ends, tuple[int, int]]]]:
        kinds = list(counts)
        total = sum(counts.values())
        width = max(8, MOST_STEPS // max(1, total * sum(len(ends) for ends in kinds)))
        level: dict[tuple[tuple[int, ...], int], Step | None] = {(tuple(counts[ends] for ends in kinds), -1): None}
        for _ in range(total):
            found: dict[tuple[tuple[int, ...], int], Step | None] = {}
            for (left, far), step in level.items():
                so_far = 0.0 if step is None else step.saved
                for k, ends in enumerate(kinds):
                    if not left[k]:
                        continue
                    rest = (*left[:k], left[k] - 1, *left[k + 1 :])
                    for way in sorted(ends):
                        saved = so_far + (0.0 if step is None else self._joints.saved(far, way[0]))
                        known = found.get((rest, way[1]))
                        if known is None or saved > known.saved + SAVES:
                            found[rest, way[1]] = Step(saved, ends, way, step)
            if len(found) > width:
                best = sorted(found.items(), key=lambda each: -each[1].saved if each[1] else 0.0)[:width]
                found = dict(best)
            level = found
        last = max((step for step in level.values() if step is not None), key=lambda step: step.saved, default=None)
        saved, order = (0.0 if last is None else last.saved), []
        while last is not None:
            order.append((last.ends, last.way))
            last = last.before
        return saved, order[::-1]
