"""Takes apart the contour of a tube that is slit from end to end: its two ends, and the slit between them.

On each surface such a tube has a single contour, which goes along one end, down one side of the slit, along the other
end and back. Each end is closed across the slit by a straight line. What is wider than a slit is an open profile.
"""

from dataclasses import dataclass

import numpy as np

from nesting.tube.contours import FOLLOWED, AnyOutline, Contour
from nesting.tube.found_section import FIT, HollowSection
from nesting.tube.solid import Solid
from nesting.tube.unroll import outline_of
from nesting.units import Mm

WIDEST = 1.0 / 3.0
"""Share of a flat side that a slit may take; wider, and the tube is a lipped channel. Common practice, no source."""

WIDEST_ROUND = 1.0 / 6.0
"""The same of the way round a round tube; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Slit:
    """The contours of the two ends by x, and of the slit, on one surface; `width` is the slit's on that surface."""

    start: Contour
    end: Contour
    slit: Contour
    width: Mm


def taken_apart(solid: Solid, contour: Contour, section: HollowSection, outline: AnyOutline) -> Slit | None:
    """None where the contour is not that of a slit tube: the sides are not straight along it, or too far apart."""
    runs = [_places(solid, number, section, outline) for number in contour.edges]
    runs = [run if way else run[::-1] for run, way in zip(runs, contour.forwards, strict=True)]
    girth = outline.girth
    low, width = _gap(contour, girth)
    if not FIT < width < girth / 2.0 or not _is_narrow(section, outline, low, width):
        return None

    def side(run: np.ndarray) -> int:
        """1 or 2 for an edge on the first or second side of the slit, 0 for one of an end."""
        for number, s in ((1, low), (2, low + width)):
            away = run[:, 1] - s
            if float(np.abs(away - girth * np.round(away / girth)).max()) < FIT:
                return number
        return 0

    sides = [side(run) for run in runs]
    # Turned round so that it begins with the first edge after one side of the slit.
    first = next((k for k in range(len(sides)) if sides[k] == 0 and sides[k - 1] != 0), None)
    if first is None:
        return None
    order = [(first + k) % len(sides) for k in range(len(sides))]
    stretches: list[list[int]] = []
    for k in order:
        if stretches and (sides[stretches[-1][-1]] == 0) == (sides[k] == 0):
            stretches[-1].append(k)
        else:
            stretches.append([k])
    if len(stretches) != 4 or len({sides[k] for k in stretches[1]}) != 1 or len({sides[k] for k in stretches[3]}) != 1:
        return None
    ends = [_part(solid, contour, runs, stretches[k], girth, closes_round=True) for k in (0, 2)]
    ends.sort(key=lambda end: end.middle[0])
    slit = _part(solid, contour, runs, [*stretches[1], *stretches[3]], girth, closes_round=False)
    if any(abs(end.turns) != 1 for end in ends) or slit.turns:
        return None
    return Slit(ends[0], ends[1], slit, width)


def _places(solid: Solid, number: int, section: HollowSection, outline: AnyOutline) -> np.ndarray:
    """Points along an edge as (x, s), s going on counting within it."""
    local = section.frame.local(solid.edges[number].fine_points(FOLLOWED))
    s = outline.around(local[:, 1:])
    steps = np.diff(s)
    steps -= outline.girth * np.round(steps / outline.girth)
    return np.column_stack([local[:, 0], s[0] + np.concatenate(([0.0], np.cumsum(steps)))])


def _gap(contour: Contour, girth: Mm) -> tuple[Mm, Mm]:
    """Where the stretch round the tube begins that the contour keeps out of, and how wide it is."""
    low, high = float(contour.s.min()), float(contour.s.max())
    return high % girth, girth - (high - low)


def _is_narrow(section: HollowSection, outline: AnyOutline, low: Mm, width: Mm) -> bool:
    if section.is_round:
        return width <= WIDEST_ROUND * outline.girth
    if outline is not section.outer:
        return True
    flat = outline_of(section.section).side_at((low + width / 2.0) % outline.girth)
    return flat is not None and width <= WIDEST * flat.length


def _part(
    solid: Solid, contour: Contour, runs: list[np.ndarray], chosen: list[int], girth: Mm, *, closes_round: bool
) -> Contour:
    """The contour along some of the edges, closed by straight lines across the slit."""
    points = runs[chosen[0]]
    for k in chosen[1:]:
        shift = girth * round(float(points[-1, 1] - runs[k][0, 1]) / girth)
        points = np.concatenate([points, runs[k] + np.array([0.0, shift])])
    back = points[0].copy()
    if closes_round:
        back[1] += girth * (1.0 if points[-1, 1] > points[0, 1] else -1.0)
    points = np.concatenate([points, back[None]])
    turns = round(float(points[-1, 1] - points[0, 1]) / girth)
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    numbers = tuple(contour.edges[k] for k in chosen)
    return Contour(points[:, 0], points[:, 1], length, turns, numbers, tuple(contour.forwards[k] for k in chosen))
