"""Contours that cannot be cut: they cross or touch themselves or each other, or run along each other.

Lines and arcs are compared as they are, not as chords, so that a circle may lie close inside another and a slot may
run tangentially into its ends.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.drawing.meetings import doubles_back, meetings
from nesting.drawing.near_pairs import near_pairs
from nesting.drawing.refusals import refusal
from nesting.drawing.spans import Span, SpanTable, span_length, span_table, vertices_of
from nesting.drawing.wording import place, size
from nesting.geometry.arcs import arc_circle
from nesting.geometry.contour import Path
from nesting.model.findings import Finding
from nesting.units import JOIN, SAME_POINT, Mm, Point

TOUCH: Mm = 1e-3
"""Different contours this close touch: no cut can be told from the other, a beam is a hundred times wider."""

MOST_FAULTS = 500
"""Faults after which the search ends: nobody reads more, and a drawing of crossing lines has millions."""

NEXT_TO_CORNER: Mm = 2 * JOIN
"""Neighbours of one contour may come near each other this close to the corner they share: joined ends were moved."""


@dataclass(frozen=True)
class ContourFault:
    """A place where contour `one` meets contour `other`, or itself where both are the same."""

    one: int
    other: int
    at: Point


def contour_faults(rings: Sequence[list[Span]]) -> list[ContourFault]:
    """At most one fault for each pair of rings, and one for each place where a ring meets itself.

    Raises:
        StopReading: too much lies over each other to compare it all.
    """
    spans = [span for ring in rings for span in ring]
    counts = [len(ring) for ring in rings]
    ring_of = np.repeat(np.arange(len(rings)), counts)
    first_of = np.concatenate([[0], np.cumsum(counts)])
    table = span_table(spans)
    faults: list[ContourFault] = []
    met: set[tuple[int, int]] = set()
    for ones, others in near_pairs(table.bounds, TOUCH):
        worth = _may_meet(table, ones, others)
        for i, j in zip(ones[worth].tolist(), others[worth].tolist(), strict=True):
            one, other = int(ring_of[i]), int(ring_of[j])
            if one != other:
                if (one, other) in met:
                    continue
                places = meetings(spans[i], spans[j], TOUCH)
                met |= {(one, other)} if places else set()
            else:
                places = _self_meetings(rings[one], i - int(first_of[one]), j - int(first_of[one]))
            faults += [ContourFault(one, other, at) for at in places[:1] if not _is_known(faults, one, other, at)]
            if len(faults) >= MOST_FAULTS:
                return faults
    return faults


def _is_known(faults: list[ContourFault], one: int, other: int, at: Point) -> bool:
    """Whether the same fault was seen from the neighbouring span."""
    return any((f.one, f.other) == (one, other) and math.dist(f.at, at) <= NEXT_TO_CORNER for f in faults[-20:])


def _may_meet(table: SpanTable, ones: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Which pairs may meet; says yes to every pair with an arc."""
    a0, a1, b0, b1 = table.start[ones], table.end[ones], table.start[others], table.end[others]

    def keeps_to_one_side(p0: np.ndarray, p1: np.ndarray, q0: np.ndarray, q1: np.ndarray) -> np.ndarray:
        way = p1 - p0
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
        near = ((q0 - p0)[:, 1] * way[:, 0] - (q0 - p0)[:, 0] * way[:, 1]) / length
        far = ((q1 - p0)[:, 1] * way[:, 0] - (q1 - p0)[:, 0] * way[:, 1]) / length
        one_side: np.ndarray = (np.minimum(near, far) > TOUCH) | (np.maximum(near, far) < -TOUCH)
        return one_side

    straight = (table.bulge[ones] == 0) & (table.bulge[others] == 0)
    apart = keeps_to_one_side(a0, a1, b0, b1) | keeps_to_one_side(b0, b1, a0, a1)
    return np.asarray(~(straight & apart))


def _self_meetings(ring: list[Span], i: int, j: int) -> list[Point]:
    """Where two spans of one ring meet other than at the corner that neighbours share."""
    one, other = ring[i], ring[j]
    corners = []
    if (i + 1) % len(ring) == j:
        corners.append((one.end, one, other))
    if (j + 1) % len(ring) == i:
        corners.append((other.end, other, one))
    for at, before, after in corners:
        if doubles_back(before, after, SAME_POINT):
            return [at]
    if not corners:
        return meetings(one, other, SAME_POINT)
    if not one.bulge and not other.bulge:
        return []
    free = _free_radius(one, other)
    return [
        point for point in meetings(one, other, SAME_POINT) if all(math.dist(point, at) > free for at, _, _ in corners)
    ]


def _free_radius(one: Span, other: Span) -> Mm:
    """How far from a shared corner neighbours may be near each other.

    A tangent leaves an arc of radius r by d only after sqrt(2 r d): with d the rounding of six decimals that most
    files carry, a line would seem to cross the arc it runs into.
    """
    radius = max(arc_circle(span.start, span.end, span.bulge)[1] for span in (one, other) if span.bulge)
    shorter = min(span_length(one), span_length(other))
    return min(max(NEXT_TO_CORNER, math.sqrt(2.0 * radius * 1e-5)), 0.4 * shorter)


def fault_findings(faults: Sequence[ContourFault], rings: Sequence[list[Span]]) -> list[Finding]:
    """The sentences for faults."""
    findings = []

    def shown(ring: int) -> str:
        bounds = Path(vertices_of(rings[ring], closed=False)).bounds
        return size(bounds.width, bounds.height)

    for fault in faults:
        where = place(fault.at)
        if fault.one == fault.other:
            message = (
                f"The contour of {shown(fault.one)} crosses or touches itself at {where}. "
                "Correct the drawing and upload it again."
            )
            findings.append(refusal("self-crossing", message, fault.at))
        else:
            message = (
                f"The contours of {shown(fault.one)} and {shown(fault.other)} cross or touch each "
                f"other at {where}. Correct the drawing and upload it again."
            )
            findings.append(refusal("crossing-contours", message, fault.at))
    return findings
