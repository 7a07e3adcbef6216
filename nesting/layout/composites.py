"""Parts with other parts in their windows and bores, treated as one piece from then on.

A *window* is a hole of a part that could take another part with the gap all round. A *filling* says what lies in one
window. A *piece* is a part with all that its windows hold, and is what engines lay; its job is a plain sheet job, so
that every engine can lay pieces, and `Pieces.expanded` gives the true placements back.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.geometry.placing import turn_vector
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout
from nesting.model.part import SheetPart, Turns
from nesting.units import Deg

SAME_TURN: Deg = 1e-6
"""Turns closer than this are one: 0.02 um at 1 m."""


@dataclass(frozen=True)
class Filling:
    """What lies in the window at index `hole` of `host`, in the host's coordinates; `count` hosts are filled so."""

    host: str
    hole: int
    placements: tuple[Placement, ...]
    count: int


@dataclass(frozen=True)
class Pieces:
    """A job of pieces. `contents` are each piece's part and what lies in its windows, in the part's coordinates."""

    job: SheetJob
    contents: Mapping[str, tuple[str, tuple[Placement, ...]]]

    def expanded(self, layouts: Sequence[SheetLayout]) -> tuple[SheetLayout, ...]:
        """Layouts of pieces as layouts of parts."""
        return tuple(
            replace(layout, placements=tuple(each for p in layout.placements for each in self._parts_of(p)))
            for layout in layouts
        )

    def _parts_of(self, p: Placement) -> list[Placement]:
        name, held = self.contents[p.part]
        return [replace(p, part=name), *(within(p, each) for each in held)]

    def part_count(self, name: str) -> int:
        """How many parts a piece holds, itself counted."""
        return 1 + len(self.contents[name][1])


def within(host: Placement, held: Placement) -> Placement:
    """Where a placement in the host's coordinates lies when the host is placed."""
    cos, sin = turn_vector(host.turn)
    flip = -1.0 if host.mirrored else 1.0
    x, y = flip * held.x, held.y
    turn = host.turn + flip * held.turn
    return Placement(
        held.part,
        x * cos - y * sin + host.x,
        x * sin + y * cos + host.y,
        turn % 360.0,
        host.mirrored != held.mirrored,
    )


def plain_pieces(job: SheetJob) -> Pieces:
    """Each part as a piece by itself."""
    return pieces_of(job, ())


def turns_within(host: Turns, held: Turns, *, mirror: bool) -> Turns:
    """The turns a part may have in its host so that it is turned rightly however the host is; () where there is none.

    `mirror` says that the host may be mirrored too, and all within it. Where the host turns freely, or in ways that
    the held part may not, nothing is found.
    """
    if held == "any":
        return "any"
    if host == "any":
        return ()

    def is_right(turn: Deg) -> bool:
        return all(_is_one_of(h + turn, held) and (not mirror or _is_one_of(h - turn, held)) for h in host)

    return tuple(turn for turn in {round((h - host[0]) % 360.0, 9): None for h in held} if is_right(turn))


def _is_one_of(turn: Deg, turns: Sequence[Deg]) -> bool:
    return any(abs((turn - each + 180.0) % 360.0 - 180.0) <= SAME_TURN for each in turns)


def pieces_of(job: SheetJob, fillings: Sequence[Filling]) -> Pieces:
    """The job's parts with the fillings in, each kind of piece with its count.

    Where fillings ask for more than there is, what is too much is left out.
    """
    demands = {demand.part.name: demand for demand in job.demands}
    by_host: dict[str, dict[int, list[Filling]]] = {}
    for filling in fillings:
        by_host.setdefault(filling.host, {}).setdefault(filling.hole, []).append(filling)
    free: dict[str, list[_Kind]] = {}
    # From small to large: what lies in a window is always smaller than the window's part, so it is made up before.
    for name in sorted(demands, key=lambda each: demands[each].part.outer.area):
        kinds = [_Kind((), frozenset(), demands[name].count)]
        for hole, some in by_host.get(name, {}).items():
            kinds = _filled(kinds, hole, some, free)
        free[name] = kinds
    pieces: list[Demand[SheetPart]] = []
    contents = {}
    for name, demand in demands.items():
        for kind in free[name]:
            if kind.count == 0:
                continue
            own = str(len(pieces))
            holes = tuple(hole for i, hole in enumerate(demand.part.holes) if i not in kind.full)
            part = SheetPart(own, demand.part.outer, holes)
            pieces.append(replace(demand, part=part, count=kind.count))
            contents[own] = (name, kind.held)
    return Pieces(replace(job, demands=tuple(pieces)), contents)


@dataclass
class _Kind:
    """`count` of a part that hold the same, not yet used as contents themselves."""

    held: tuple[Placement, ...]
    full: frozenset[int]
    count: int


def _filled(kinds: list[_Kind], hole: int, fillings: Sequence[Filling], free: Mapping[str, list[_Kind]]) -> list[_Kind]:
    """The kinds split up by what they get into one more window."""
    made: list[_Kind] = []
    for filling in fillings:
        left = filling.count
        while left > 0:
            host = next((kind for kind in kinds if kind.count), None)
            taken = _take(filling.placements, min(left, host.count) if host else 0, free)
            if host is None or taken is None:
                break
            held, count = taken
            made.append(_Kind(host.held + held, host.full | {hole}, count))
            host.count -= count
            left -= count
    return made + [kind for kind in kinds if kind.count]


def _take(
    placements: Sequence[Placement], most: int, free: Mapping[str, list[_Kind]]
) -> tuple[tuple[Placement, ...], int] | None:
    """Takes what one filling needs out of the free pieces, as often as the same kinds last, up to `most` times."""
    if most < 1:
        return None
    chosen: list[tuple[Placement, _Kind]] = []
    used: Counter[int] = Counter()
    for p in placements:
        # Those that hold most go into windows first; a kind with something in it is no larger than one without.
        kinds = sorted(free.get(p.part, ()), key=lambda kind: -len(kind.held))
        kind = next((each for each in kinds if each.count > used[id(each)]), None)
        if kind is None:
            return None
        used[id(kind)] += 1
        chosen.append((p, kind))
    count = min(most, min((kind.count // used[id(kind)] for _, kind in chosen), default=0))
    if count < 1:
        return None
    held: list[Placement] = []
    for p, kind in chosen:
        kind.count -= count
        held += [p, *(within(p, each) for each in kind.held)]
    return tuple(held), count
