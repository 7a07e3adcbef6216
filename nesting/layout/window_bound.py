"""How much area parts in windows can save at most: they lie in metal's holes and take up no sheet of their own.

A hole that can hold no other part of the job counts as metal. All else errs towards more saved, so that what is built
on it is never too high: whether a part may lie in a window is asked of areas, least widths, and bounds alone.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour
from nesting.layout.grown import FINE, shrunk
from nesting.model.nest import Demand, SheetJob
from nesting.model.part import SheetPart, Turns
from nesting.units import Deg, Mm, Mm2

HAIR: Mm = 0.005
"""By how much less a part is taken than it measures: float noise, and what the checker forgives."""

QUARTER: Deg = 90.0

FEW_FIT = 12
"""Where at most so many of the smallest part have room in a window, the fullest choice is looked for."""

STEPS = 512
"""Into how many steps a window's area is divided for that choice."""


@dataclass(frozen=True)
class _Window:
    """A hole that some part may lie in; `room` bounds the areas, grown by half the gap, of what it holds."""

    copies: int
    room: Mm2
    fits: npt.NDArray[np.bool_]


def least_width(shape: BaseGeometry) -> Mm:
    """The least distance between two parallel lines with the shape between them; 0 where it has no area.

    One of the lines runs along an edge of the hull (known for convex polygons, from memory).
    """
    corners = shapely.get_coordinates(shape.convex_hull)
    if len(corners) < 4:
        return 0.0
    edges = corners[1:] - corners[:-1]
    normals = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(edges[:, 0], edges[:, 1])[:, None]
    heights = corners @ normals.T
    return float((heights.max(axis=0) - heights.min(axis=0)).min())


def saved_at_most(job: SheetJob, grown: Mapping[str, Mm2], is_over: Callable[[], bool]) -> Mm2 | None:
    """No nest of the job has more of the parts' grown areas in windows; None where the time ran out.

    `grown` is each part's outline's area grown by half the gap.
    """
    demands = [demand for demand in job.demands if demand.count]
    least = min((demand.part.outer.area for demand in demands), default=0.0)
    hosts = [demand for demand in demands if any(_reach(hole) >= least for hole in demand.part.holes)]
    if not hosts:
        return 0.0
    largest = max(_reach(hole) for host in hosts for hole in host.part.holes)
    small = [demand for demand in demands if demand.part.outer.area <= largest]
    widths = []
    for demand in small:
        if is_over():
            return None
        widths.append(least_width(Polygon(demand.part.outer.polygon(FINE, "inwards"))))
    parts, windows = _Parts(small, grown, widths), []
    for host in hosts:
        if is_over():
            return None
        windows += _windows_of(host, job, parts, least)
    whole = parts.grown * parts.counts
    held = math.fsum(min(window.copies * window.room, float(whole[window.fits].sum())) for window in windows)
    may_be_held = np.logical_or.reduce([window.fits for window in windows]) if windows else np.zeros(len(whole), bool)
    return min(held, float(whole[may_be_held].sum()))


class _Parts:
    """Measures of all parts that are small enough for some hole, side by side."""

    def __init__(self, demands: Sequence[Demand[SheetPart]], grown: Mapping[str, Mm2], widths: Sequence[Mm]) -> None:
        self.demands = demands
        self.grown = np.array([grown[demand.part.name] for demand in demands])
        self.counts = np.array([float(demand.count) for demand in demands])
        self.areas = np.array([demand.part.outer.area for demand in demands])
        bounds = [demand.part.bounds for demand in demands]
        self.wide = np.array([b.width for b in bounds])
        self.high = np.array([b.height for b in bounds])
        self.width = np.array(widths)


def _windows_of(host: Demand[SheetPart], job: SheetJob, parts: _Parts, least: Mm2) -> list[_Window]:
    gap, found = job.rules.gap, []
    turns = job.turns_of(host)
    upright = np.array([_by_quarters(turns, job.turns_of(demand)) for demand in parts.demands])
    for hole in host.part.holes:
        if _reach(hole) < least:
            continue
        room = float(shrunk(hole, gap / 2.0).area) + HAIR * hole.length
        fits = np.zeros(len(parts.grown), dtype=bool)
        # Metal of one piece lies in one piece of what is left a gap away from the edge.
        for place in shapely.get_parts(shrunk(hole, gap)):
            if isinstance(place, Polygon) and not place.is_empty:
                fits |= _may_hold(place, parts, upright)
        fits &= (parts.grown <= room) & (parts.areas <= _reach(hole))
        if fits.any():
            found.append(_Window(host.count, _fullest(room, parts.grown[fits], parts.counts[fits]), fits))
    return found


def _reach(hole: Contour) -> Mm2:
    return hole.area + HAIR * hole.length


def _may_hold(place: Polygon, parts: _Parts, upright: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Which parts may lie wholly in the place; only a clear no counts."""
    left, bottom, right, top = place.bounds
    wide, high = right - left + HAIR, top - bottom + HAIR
    longest = np.maximum(parts.wide, parts.high)
    stands = ((parts.wide <= wide) & (parts.high <= high)) | ((parts.high <= wide) & (parts.wide <= high))
    fits = (parts.areas <= place.area + HAIR * place.length) & (parts.width <= least_width(place) + HAIR)
    found: npt.NDArray[np.bool_] = fits & (longest <= math.hypot(wide, high)) & (stands | ~upright)
    return found


def _by_quarters(host: Turns, held: Turns) -> bool:
    """Whether a held part can only stand in its host at whole quarter turns."""
    if host == "any" or held == "any":
        return False
    return all(abs((b - a + QUARTER / 2.0) % QUARTER - QUARTER / 2.0) < 1e-6 for a in host for b in held)


def _fullest(room: Mm2, grown: npt.NDArray[np.float64], counts: npt.NDArray[np.float64]) -> Mm2:
    """The largest sum of the areas that is not above the room, or more; each may be taken again and again."""
    if room > FEW_FIT * float(grown.min()):
        return min(room, float((grown * counts).sum()))
    # Areas are taken in whole steps, rounded down, so nothing that has room is missed.
    step = room / STEPS
    kinds = [(int(area / step), float(area)) for area in np.unique(grown)]
    best = [0.0] * (STEPS + 1)
    for at in range(1, STEPS + 1):
        best[at] = max(best[at - 1], *(best[at - size] + area for size, area in kinds if size <= at), 0.0)
    return min(room, best[STEPS])
