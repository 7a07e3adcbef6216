"""Takes out lines that were drawn twice: they would be cut twice.

Finds exact doubles, reversed ones, straight lines that lie along each other and arcs that share a piece of their
circle. Closed entities (a circle, a closed polyline) are only taken out whole, and come before loose lines: a loose
line that lies on one is taken out. Of two loose lines the longer stays, and the other keeps what sticks out.
"""

import math
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from nesting.drawing.blocks import Line
from nesting.drawing.near_pairs import near_pairs
from nesting.drawing.spans import (
    Span,
    SpanTable,
    distance_to,
    fraction_beside,
    piece_of,
    point_on,
    span_length,
    span_table,
)
from nesting.geometry.arcs import arc_angle, arc_circle
from nesting.units import JOIN, Mm, Point

LEAST_OVERLAP: Mm = JOIN
"""Lines that share less than this only meet at their ends."""

type Stretch = tuple[float, float]
"""A part of a span, from one fraction of it to another."""


@dataclass
class Cleaned:
    """Rings and loose lines without doubles. `repeats` holds a point of each line that was taken out or shortened."""

    rings: list[Line]
    loose: list[tuple[Span, str]] = field(default_factory=list)
    repeats: list[Point] = field(default_factory=list)


def without_repeats(lines: list[Line]) -> Cleaned:
    """The lines with doubles taken out; closed ones as rings, all others as loose spans with their layer."""
    rings = [line for line in lines if line.closed]
    spans: list[Span] = []
    owner: list[int] = []
    layers: list[str] = []
    for index, line in enumerate(rings):
        spans += line.spans
        owner += [index] * len(line.spans)
        layers += [line.layer] * len(line.spans)
    ring_span_count = len(spans)
    for line in lines:
        if not line.closed:
            spans += line.spans
            owner += [-1] * len(line.spans)
            layers += [line.layer] * len(line.spans)
    covers = _covers(spans, owner, ring_span_count)
    doubled = _doubled_rings(rings, owner[:ring_span_count], covers)
    repeats = [rings[index].spans[0].start for index in sorted(doubled)]
    cleaned = Cleaned([ring for index, ring in enumerate(rings) if index not in doubled], repeats=repeats)
    for index in range(ring_span_count, len(spans)):
        span = spans[index]
        stretches = [stretch for _, stretch in covers[index]] if index in covers else []
        if not stretches:
            cleaned.loose.append((span, layers[index]))
            continue
        cleaned.repeats.append(span.start)
        length = span_length(span)
        for first, last in _gaps(stretches):
            if (last - first) * length > LEAST_OVERLAP:
                cleaned.loose.append((piece_of(span, first, last), layers[index]))
    return cleaned


def _covers(spans: list[Span], owner: list[int], ring_span_count: int) -> dict[int, list[tuple[int, Stretch]]]:
    """For each span the others that lie on it, with the stretch of it they cover; only those that come before it."""
    table = span_table(spans)
    lengths = np.array([span_length(span) for span in spans])
    covers: dict[int, list[tuple[int, Stretch]]] = defaultdict(list)

    def comes_before(a: int, b: int) -> bool:
        ring_a, ring_b = a < ring_span_count, b < ring_span_count
        if ring_a != ring_b:
            return ring_a
        return a < b if ring_a or lengths[a] == lengths[b] else bool(lengths[a] > lengths[b])

    for ones, others in near_pairs(table.bounds, JOIN):
        likely = _may_overlap(table, lengths, ones, others)
        for i, j in zip(ones[likely].tolist(), others[likely].tolist(), strict=True):
            if owner[i] == owner[j] != -1:
                continue
            first, second = (i, j) if comes_before(i, j) else (j, i)
            for stretch in overlaps(spans[second], spans[first]):
                covers[second].append((first, stretch))
    return covers


def _may_overlap(table: SpanTable, lengths: np.ndarray, ones: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Which pairs are worth a close look: chords near each other's line for straight pairs, like circles for arcs.

    A line and an arc are looked at only where their ends agree, for an arc may be almost flat.
    """
    a0, a1, b0, b1 = table.start[ones], table.end[ones], table.start[others], table.end[others]

    def close(p: np.ndarray, q: np.ndarray) -> np.ndarray:
        near: np.ndarray = np.hypot(p[:, 0] - q[:, 0], p[:, 1] - q[:, 1]) <= JOIN
        return near

    same_ends = (close(a0, b0) & close(a1, b1)) | (close(a0, b1) & close(a1, b0))
    arc_a, arc_b = table.bulge[ones] != 0, table.bulge[others] != 0
    way, other_way = a1 - a0, b1 - b0
    across = np.abs(way[:, 0] * other_way[:, 1] - way[:, 1] * other_way[:, 0])
    parallel = across <= 0.21 * np.hypot(way[:, 0], way[:, 1]) * np.hypot(other_way[:, 0], other_way[:, 1])
    chord = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
    offset = (b0 - a0)[:, 0] * way[:, 1] - (b0 - a0)[:, 1] * way[:, 0]
    far_offset = (b1 - a0)[:, 0] * way[:, 1] - (b1 - a0)[:, 1] * way[:, 0]
    apart = (np.minimum(np.abs(offset), np.abs(far_offset)) > 2 * JOIN * chord) & (offset * far_offset > 0)
    lines = ~arc_a & ~arc_b & parallel & ~apart
    return np.asarray(same_ends | lines | (arc_a & arc_b))


def overlaps(span: Span, other: Span) -> list[Stretch]:
    """The stretches of `span` that lie along `other`, within the joining tolerance."""
    length = span_length(span)
    tight = min(JOIN, length / 10.0)
    direct = max(math.dist(span.start, other.start), math.dist(span.end, other.end))
    turned = max(math.dist(span.start, other.end), math.dist(span.end, other.start))
    middle = point_on(span, 0.5)
    if min(direct, turned) <= tight and distance_to(other, middle) <= tight:
        return [(0.0, 1.0)]
    if span.bulge and other.bulge:
        candidates = _arc_stretches(span, other)
    elif not span.bulge and not other.bulge:
        ends = sorted((fraction_beside(span, other.start), fraction_beside(span, other.end)))
        candidates = [(max(0.0, ends[0]), min(1.0, ends[1]))]
    else:
        return []
    found = []
    for first, last in candidates:
        shared = (last - first) * length
        if shared <= LEAST_OVERLAP:
            continue
        # Short pieces must lie closer: two lines that only cross at a sharp angle are near each other for a while.
        close = min(JOIN, shared / 10.0)
        if all(distance_to(other, point_on(span, f)) <= close for f in (first, (first + last) / 2.0, last)):
            found.append((first, last))
    return found


def _arc_stretches(span: Span, other: Span) -> list[Stretch]:
    """Where `other` runs round on the circle of `span`; up to two stretches, for they may share both ends."""
    centre, radius = arc_circle(span.start, span.end, span.bulge)
    probes = [other.start, point_on(other, 0.5), other.end]
    if any(abs(math.dist(probe, centre) - radius) > JOIN for probe in probes):
        return []
    sweep = abs(arc_angle(span.bulge))
    turns = []
    for probe in probes:
        turn = math.atan2(probe[1] - centre[1], probe[0] - centre[0])
        turns.append(turn - math.atan2(span.start[1] - centre[1], span.start[0] - centre[0]))
    if span.bulge < 0:
        turns = [-turn for turn in turns]
    whole = 2.0 * math.pi
    begin = turns[0] % whole
    run, half = (turns[2] - turns[0]) % whole, (turns[1] - turns[0]) % whole
    if half > run:
        begin, run = turns[2] % whole, whole - run
    pieces = [(max(0.0, begin + shift), min(sweep, begin + run + shift)) for shift in (-whole, 0.0)]
    return [(low / sweep, high / sweep) for low, high in pieces if high > low]


def _gaps(stretches: list[Stretch]) -> list[Stretch]:
    """What the stretches leave of 0 to 1."""
    gaps = []
    reached = 0.0
    for first, last in sorted(stretches):
        if first > reached:
            gaps.append((reached, first))
        reached = max(reached, last)
    if reached < 1.0:
        gaps.append((reached, 1.0))
    return gaps


def _doubled_rings(rings: list[Line], owner: list[int], covers: dict[int, list[tuple[int, Stretch]]]) -> set[int]:
    """Rings that lie on one single other ring all round, and are as long as it."""
    covered: dict[tuple[int, int], list[tuple[int, Stretch]]] = defaultdict(list)
    for index, ring in enumerate(owner):
        for by, stretch in covers.get(index, ()):
            covered[ring, owner[by]].append((index, stretch))
    lengths = [math.fsum(span_length(span) for span in ring.spans) for ring in rings]
    starts = np.cumsum([0, *(len(ring.spans) for ring in rings)])
    doubled: set[int] = set()
    for (ring, by), stretches in sorted(covered.items()):
        if by in doubled or abs(lengths[ring] - lengths[by]) > JOIN * (2 + len(rings[ring].spans)):
            continue
        left = 0.0
        by_span: dict[int, list[Stretch]] = defaultdict(list)
        for index, stretch in stretches:
            by_span[index].append(stretch)
        for index in range(int(starts[ring]), int(starts[ring + 1])):
            share = sum(last - first for first, last in _gaps(by_span[index]))
            left += share * span_length(rings[ring].spans[index - int(starts[ring])])
        if left <= JOIN * (2 + len(rings[ring].spans)):
            doubled.add(ring)
    return doubled
