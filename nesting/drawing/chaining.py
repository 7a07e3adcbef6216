"""Joins loose lines and arcs into closed rings, and says where that does not work out.

A *node* is a place where ends of spans meet. Ends within `SAME_POINT` are one node from the start. Then *loose ends*
(nodes with one end) are joined with the nearest other loose end within the tolerance, closest pairs first. Nodes
where lines already meet are never joined with anything: a wider tolerance must not make branches. What remains is
rings, open *runs*, and *branches*, where more than two lines meet and it cannot be known which belong together.
"""

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import shapely

from nesting.drawing.near_pairs import near_pairs
from nesting.drawing.spans import Span, piece_of, reverse
from nesting.units import JOIN_WIDE, SAME_POINT, Mm, Point

type End = int
"""2 · span for its start, 2 · span + 1 for its end."""


class LooseEnd(NamedTuple):
    """An end that meets nothing: where, the layer of its line, and the nearest loose end of another line with its
    distance (None and infinite where the other end of its own line is nearer). `partner` is that end's place among
    the loose ends.

    `can_be_joined` says that joining at `JOIN_WIDE` would close this gap; the partner is then the end it would meet.
    """

    at: Point
    layer: str
    partner: int | None
    gap: Mm
    can_be_joined: bool


@dataclass
class Chains:
    """What loose spans make. Every run's spans follow each other."""

    rings: list[list[Span]] = field(default_factory=list)
    runs: list[list[Span]] = field(default_factory=list)
    branched: list[list[Span]] = field(default_factory=list)
    """Runs between branches; they may be closed, from a branch round to itself."""
    branches: list[tuple[Point, int]] = field(default_factory=list)
    """Places where more than two lines meet, and how many do."""
    loose_ends: list[LooseEnd] = field(default_factory=list)
    joined_gaps: list[Mm] = field(default_factory=list)
    """The gaps that were closed by joining, wider than `SAME_POINT`."""


def chained(loose: list[tuple[Span, str]], join: Mm) -> Chains:
    """Rings, runs and branches of the spans (with their layers), loose ends joined up to `join` apart."""
    spans: list[Span] = []
    layers: list[str] = []
    for span, layer in loose:
        # An arc of almost a whole turn has both its ends in one place: in two halves it can be told from a point.
        pieces = [piece_of(span, 0.0, 0.5), piece_of(span, 0.5, 1.0)] if abs(span.bulge) > 1.0 else [span]
        spans += pieces
        layers += [layer] * len(pieces)
    chains = Chains()
    node_of, places = _nodes(spans)
    _join_loose_ends(node_of, places, join, chains)
    ends_at: dict[int, list[End]] = defaultdict(list)
    for end, node in enumerate(node_of):
        ends_at[node].append(end)
    chains.branches = [(places[node], len(ends)) for node, ends in ends_at.items() if len(ends) > 2]
    moved = [_between(span, places[node_of[2 * i]], places[node_of[2 * i + 1]]) for i, span in enumerate(spans)]
    _walk(moved, node_of, ends_at, chains)
    chains.loose_ends = _loose_ends(ends_at, places, layers)
    return chains


def _between(span: Span, start: Point, end: Point) -> Span:
    return span if (span.start, span.end) == (start, end) else Span(start, end, span.bulge)


def _nodes(spans: list[Span]) -> tuple[list[int], list[Point]]:
    """The node of each end, and the place of each node: the first of its ends."""
    cell = 100.0 * SAME_POINT
    node_of: list[int] = []
    places: list[Point] = []
    at_cell: dict[tuple[int, int], list[int]] = defaultdict(list)
    for span in spans:
        for x, y in (span.start, span.end):
            found = -1
            # Neighbouring cells matter only to points within SAME_POINT of the border.
            columns = {math.floor((x - SAME_POINT) / cell), math.floor((x + SAME_POINT) / cell)}
            rows = {math.floor((y - SAME_POINT) / cell), math.floor((y + SAME_POINT) / cell)}
            for column in columns:
                for row in rows:
                    for node in at_cell.get((column, row), ()):
                        if math.dist(places[node], (x, y)) <= SAME_POINT:
                            found = node
                            break
            if found < 0:
                found = len(places)
                places.append((x, y))
                at_cell[math.floor(x / cell), math.floor(y / cell)].append(found)
            node_of.append(found)
    return node_of, places


def _join_loose_ends(node_of: list[int], places: list[Point], join: Mm, chains: Chains) -> None:
    """Makes one node of loose ends close to each other, at the middle between them."""
    if join <= SAME_POINT:
        return
    counts = np.bincount(np.array(node_of, dtype=np.intp), minlength=len(places))
    end_of = {node: end for end, node in enumerate(node_of) if counts[node] == 1}
    for gap, one, other in _closest_pairs(end_of, places, join):
        (x0, y0), (x1, y1) = places[one], places[other]
        places[one] = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
        node_of[end_of[other]] = one
        chains.joined_gaps.append(gap)


def _closest_pairs(end_of: dict[int, End], places: list[Point], reach: Mm) -> list[tuple[Mm, int, int]]:
    """Which nodes with one end are joined with which, at most `reach` apart, as (gap, node, node), closest first."""
    single = list(end_of)
    pairs = []
    for a, b, gap in _close_places([places[node] for node in single], reach):
        one, other = single[a], single[b]
        # A line must not be bent onto itself.
        if end_of[one] // 2 != end_of[other] // 2:
            pairs.append((gap, one, other))
    taken: set[int] = set()
    chosen = []
    for gap, one, other in sorted(pairs):
        if one not in taken and other not in taken:
            taken |= {one, other}
            chosen.append((gap, one, other))
    return chosen


def _close_places(points: list[Point], reach: Mm) -> list[tuple[int, int, Mm]]:
    """Pairs of points at most `reach` apart, with their distance."""
    if len(points) < 2:
        return []
    row = np.array(points)
    found: list[tuple[int, int, Mm]] = []
    for ones, others in near_pairs(np.column_stack([row, row]), reach):
        gaps = np.hypot(*(row[ones] - row[others]).T)
        near = np.flatnonzero(gaps <= reach)
        found += zip(ones[near].tolist(), others[near].tolist(), gaps[near].tolist(), strict=True)
    return found


def _walk(spans: list[Span], node_of: list[int], ends_at: dict[int, list[End]], chains: Chains) -> None:
    """Follows the spans from node to node: first from loose ends and branches, then what is left, which is rings."""
    used = [False] * len(spans)

    def follow(end: End) -> tuple[list[Span], int]:
        """The spans from this end on, up to a loose end, a branch, or round to the beginning; and the last node."""
        run = []
        while True:
            span = end // 2
            used[span] = True
            run.append(spans[span] if end % 2 == 0 else reverse(spans[span]))
            far = end ^ 1
            ends = ends_at[node_of[far]]
            if len(ends) != 2:
                return run, node_of[far]
            end = ends[1] if ends[0] == far else ends[0]
            if used[end // 2]:
                return run, node_of[far]

    for ends in ends_at.values():
        if len(ends) == 2:
            continue
        for end in ends:
            if not used[end // 2]:
                run, last = follow(end)
                is_plain = len(ends) == 1 and len(ends_at[last]) == 1
                (chains.runs if is_plain else chains.branched).append(run)
    for index in range(len(spans)):
        if not used[index]:
            chains.rings.append(follow(2 * index)[0])


def _loose_ends(ends_at: dict[int, list[End]], places: list[Point], layers: list[str]) -> list[LooseEnd]:
    """The ends that stayed loose, each with its nearest neighbour of a different line's end."""
    end_of = {node: ends[0] for node, ends in ends_at.items() if len(ends) == 1}
    nodes = list(end_of)
    partners: dict[int, tuple[int, Mm]] = {}
    if len(nodes) > 1:
        points = np.asarray(shapely.points(np.array([places[node] for node in nodes])))
        tree = shapely.STRtree(points)
        (asked, met), gaps = tree.query_nearest(points, exclusive=True, return_distance=True, all_matches=False)
        for a, b, gap in zip(asked.tolist(), met.tolist(), gaps.tolist(), strict=True):
            # The other end of a short line is no neighbour.
            if end_of[nodes[a]] // 2 != end_of[nodes[b]] // 2:
                partners[a] = (b, gap)
    place_of = {node: index for index, node in enumerate(nodes)}
    joinable: set[int] = set()
    for gap, one, other in _closest_pairs(end_of, places, JOIN_WIDE):
        a, b = place_of[one], place_of[other]
        joinable |= {a, b}
        partners |= {a: (b, gap), b: (a, gap)}
    ends = []
    for index, node in enumerate(nodes):
        partner, gap = partners.get(index, (None, math.inf))
        ends.append(LooseEnd(places[node], layers[end_of[node] // 2], partner, gap, index in joinable))
    return ends
