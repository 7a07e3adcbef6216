"""Says whether two recognised tubes are one part, mirror images of each other, or neither.

Two pieces are one part where a turn of the bar, or turning it end for end, lays one on the other. Each cut contour is
compared by its moments: sums along it of powers of its points' coordinates up to the third order, which change when it
is mirrored. How a program splits edges and where it puts seams does not matter to them.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from nesting.model.section import SectionShape
from nesting.tube.contours import Contour
from nesting.tube.ring_outline import RingOutline
from nesting.tube.tube_shape import TubeShape
from nesting.units import Mm

SAME: Mm = 0.02
"""How far measures and contours of one part may be apart: under what a machine repeats, over what programs write."""

POWERS = [p for p in product(range(4), repeat=3) if sum(p) <= 3]
"""Powers of x, y and z, up to the third order altogether."""


@dataclass(frozen=True, eq=False)
class Cuts:
    """The contours of one part as points `(n, 3)` along them: x from the middle of its length, y and z across."""

    shape: TubeShape

    @cached_property
    def runs(self) -> list[np.ndarray]:
        return [_points(contour, self.shape) for contour in _contours(self.shape)]

    def moments(self, turn: np.ndarray) -> np.ndarray:
        """A row for each contour after turning: its moments as lengths, so that SAME holds for each."""
        return np.array([_moments(run @ turn.T) for run in self.runs])


def _contours(shape: TubeShape) -> list[Contour]:
    ends = [contour for end in (shape.start, shape.end) for contour in (end.outer, end.inner) if contour is not None]
    return ends + [contour for opening in shape.openings for contour in (opening.outer, *opening.far)]


def _points(contour: Contour, shape: TubeShape) -> np.ndarray:
    """On the outer surface, from x and s; those of inner contours too, which keeps them apart by their x."""
    section = shape.section.section
    outline = shape.section.outer if isinstance(shape.section.outer, RingOutline) else RingOutline(section.outlines[0])
    is_inner = any(contour is end.inner for end in (shape.start, shape.end))
    if is_inner:
        outline = RingOutline(section.outlines[1])
    middle = shape.section.length / 2.0
    return np.column_stack([contour.x - middle, outline.at(contour.s)])


def _moments(points: np.ndarray) -> np.ndarray:
    first, last = points[:-1], points[1:]
    steps = np.linalg.norm(last - first, axis=1)
    total = float(steps.sum())
    reach = max(1.0, float(np.abs(points).max()))
    found = []
    for power in POWERS:
        values = [np.prod(at ** np.array(power), axis=1) for at in (first, (first + last) / 2.0, last)]
        # Simpson's rule, exact for cubics; scaled back to a length.
        sums = float(((values[0] + 4.0 * values[1] + values[2]) / 6.0 * steps).sum()) / total
        order = sum(power)
        found.append(total if order == 0 else sums / reach ** (order - 1))
    return np.array(found)


def are_one(first: Cuts, second: Cuts) -> bool:
    """Whether both are one part."""
    return _fits(first, second, mirrored=False)


def are_mirrored(first: Cuts, second: Cuts) -> bool:
    """Whether one is the mirror image of the other, and not the same part."""
    return _fits(first, second, mirrored=True) and not are_one(first, second)


def _fits(first: Cuts, second: Cuts, *, mirrored: bool) -> bool:
    a, b = first.shape, second.shape
    if len(first.runs) != len(second.runs) or len(a.openings) != len(b.openings):
        return False
    if abs(a.section.length - b.section.length) > SAME or not _same_section(a, b):
        return False
    still = second.moments(np.eye(3))
    return any(_same_rows(first.moments(turn), still) for turn in _turns(first, second, mirrored=mirrored))


def _same_section(a: TubeShape, b: TubeShape) -> bool:
    one, other = a.section.section, b.section.section
    measures = ("height", "width", "wall", "corner_radius", "inner_radius", "flange", "root_radius", "toe_radius")
    return one.shape is other.shape and all(abs(getattr(one, m) - getattr(other, m)) <= SAME for m in measures)


def _same_rows(rows: np.ndarray, others: np.ndarray) -> bool:
    """Whether every row has one of its own among the others."""
    free = list(range(len(others)))
    for row in rows:
        found = next((k for k in free if np.abs(row - others[k]).max() < SAME), None)
        if found is None:
            return False
        free.remove(found)
    return True


def _turns(first: Cuts, second: Cuts, *, mirrored: bool) -> Iterator[np.ndarray]:
    """The turns, or mirrorings, that lay the section of the bar on itself; for round bar those that might fit."""
    is_round = first.shape.section.section.shape in (SectionShape.ROUND, SectionShape.ROUND_BAR)
    for end_for_end in (1.0, -1.0):
        for across in _round_turns(first, second, end_for_end) if is_round else _own_turns(first.shape):
            turn = np.zeros((3, 3))
            turn[0, 0], turn[1:, 1:] = end_for_end, across
            if bool(np.linalg.det(turn) < 0.0) is mirrored:
                yield turn


def _own_turns(shape: TubeShape) -> Iterator[np.ndarray]:
    """The quarter turns and mirrorings across that lay the outline on itself."""
    outline = RingOutline(shape.section.section.outlines[0])
    corners = outline.at(np.linspace(0.0, outline.girth, 181))
    for swap, y, z in product((False, True), (1.0, -1.0), (1.0, -1.0)):
        across = np.array([[0.0, y], [z, 0.0]]) if swap else np.array([[y, 0.0], [0.0, z]])
        if np.abs(outline.distance(corners @ across.T)).max() < SAME:
            yield across


def _round_turns(first: Cuts, second: Cuts, end_for_end: float) -> Iterator[np.ndarray]:
    """Turns and mirrorings by the angles at which a telling contour of the one would lie on one of the other."""
    for flip in (1.0, -1.0):
        yield from (_turn(angle, flip) for angle in _angles(first, second, end_for_end, flip))


def _turn(angle: float, flip: float) -> np.ndarray:
    """Mirrored in z where `flip` is -1, then turned."""
    cosine, sine = math.cos(angle), math.sin(angle)
    return np.array([[cosine, -sine * flip], [sine, cosine * flip]])


def _angles(first: Cuts, second: Cuts, end_for_end: float, flip: float) -> set[float]:
    for order in (1, 2, 3, 4):
        marks = [(mark, weighted) for run in first.runs for mark, weighted in _marks(run, order)]
        telling = [pair for pair in marks if abs(pair[0]) > SAME]
        if not telling:
            continue
        mark, weighted = max(telling, key=lambda pair: abs(pair[0]))
        mark = mark if flip > 0 else mark.conjugate()
        mark = mark * (end_for_end if weighted else 1.0)
        angles = set()
        for run in second.runs:
            for other, other_weighted in _marks(run, order):
                if other_weighted is weighted and abs(abs(other) - abs(mark)) < SAME:
                    step = float(np.angle(other / mark)) / order
                    angles |= {round(step + 2.0 * math.pi * k / order, 9) for k in range(order)}
        return angles
    return {0.0}


def _marks(run: np.ndarray, order: int) -> list[tuple[complex, bool]]:
    """What turns with a contour: the mean of (y + iz) to a power, plain and weighted with x, as lengths."""
    middles, steps = (run[1:] + run[:-1]) / 2.0, np.linalg.norm(np.diff(run, axis=0), axis=1)
    radius = float(np.abs(middles[:, 1:]).max())
    power = (middles[:, 1] + 1j * middles[:, 2]) ** order / radius ** (order - 1)
    weights = steps / steps.sum()
    far = max(1.0, float(np.abs(run[:, 0]).max()))
    return [(complex(power @ weights), False), (complex(power @ (weights * middles[:, 0] / far)), True)]
