"""The clearance between two neighbours on a bar, from the solid shape of the ends that face each other.

An end whose contour lies in one plane is taken as that plane, found from the contour as laid, not from what is said of
its angle. Every other end (cope, notch, unknown) keeps to its extent: nothing may reach past it.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nesting.errors import BadValue
from nesting.geometry.contour import Path
from nesting.geometry.ring_walk import RingWalk
from nesting.model.laid_piece import fits_section, laid_ends
from nesting.model.nest import Piece
from nesting.model.part import TubePart
from nesting.model.tube_cuts import EndCut
from nesting.units import CHECK_SLACK, Deg, Mm

type Numbers = NDArray[np.float64]

IN_PLANE: Mm = CHECK_SLACK / 4.0
"""How far the contour of a plane end may be off its plane: float noise of a reader, well within what is forgiven."""

MOST_ON_CHORDS = 4
"""Vertices of one contour that may lie on its chords: where it begins and ends, before and after a turn."""

LEANS = 1.0 + 1e-9
"""Steepness above which a plane leans at all; a square end is square to the surface whatever is said of its bevel."""

BEVELLED: Deg = 0.5
"""Cut faces that lean less are square to the surface."""

AT_EXTENT: Mm = 0.05
"""How far a contour may stay behind its piece's extent and still be that of its end."""


@dataclass(frozen=True)
class Plane:
    """The plane x = `at` + `y`·(place across) + `z`·(place upright) in which an end of the outline lies."""

    outline: RingWalk
    at: Mm
    y: float
    z: float
    bevelled: bool
    """Whether the wall is cut along the plane too, or square to the surface as a beam without a tilt cuts it."""

    @property
    def steepness(self) -> float:
        """How much longer a way along the bar is than the same way square to the plane."""
        return math.sqrt(1.0 + self.y**2 + self.z**2)


@dataclass(frozen=True)
class Neighbour:
    """One piece as it lies: its extent, and its two end planes where it has them."""

    name: str
    start: Mm
    end: Mm
    near: Plane | None
    far: Plane | None
    is_square: bool
    """Nothing is known of its ends but that they are square."""

    def shifted(self, by: Mm) -> "Neighbour":
        near = self.near and replace(self.near, at=self.near.at + by)
        far = self.far and replace(self.far, at=self.far.at + by)
        return replace(self, start=self.start + by, end=self.end + by, near=near, far=far)


class Neighbours:
    """The pieces of a nest as they lie; the ends of those that lie alike are looked at once."""

    def __init__(self, parts: Mapping[str, TubePart]) -> None:
        self.parts = parts
        self._seen: dict[tuple[str, bool, Deg], Neighbour] = {}

    def of(self, piece: Piece) -> Neighbour:
        key = (piece.part, piece.flipped, piece.turn)
        if key not in self._seen:
            self._seen[key] = _neighbour(self.parts[piece.part], replace(piece, start=0.0))
        return self._seen[key].shifted(piece.start)


def _neighbour(part: TubePart, piece: Piece) -> Neighbour:
    """The piece with its ends as laid. One that is turned as its section does not allow has none that is plane."""
    start, end = piece.start, piece.start + part.length
    near = far = None
    if part.ends is not None and fits_section(part.section, flipped=piece.flipped, turn=piece.turn):
        walk = RingWalk(part.section.outlines[0])
        try:
            laid = laid_ends(part, piece)
        except BadValue:  # a contour that encloses nothing, in a record that was written by hand
            laid = None
        if laid is not None:
            near, far = _plane(walk, laid[0], start, min), _plane(walk, laid[1], end, max)
            if near and far and _least(far, near) < -IN_PLANE:
                near = far = None  # its ends cross, so it does not part its two neighbours everywhere
    return Neighbour(part.name, start, end, near, far, part.ends is None and part.square_ends)


def clearance(piece: Neighbour, following: Neighbour) -> Mm:
    """The least distance along the bar between the two, over every line along it; below 0 where they overlap."""
    far, near = piece.far, following.near
    if (
        far is None
        or near is None
        or (far.bevelled is not near.bevelled and min(far.steepness, near.steepness) > LEANS)
    ):
        return following.start - piece.end
    return _least(near, far)


def shared_cut_along(piece: Neighbour, following: Neighbour, kerf: Mm) -> Mm | None:
    """What one cut of width `kerf` between the two takes along the bar; None where they are not flat on each other."""
    one, other = piece.far, following.near
    if (one is None and not piece.is_square) or (other is None and not following.is_square):
        return None
    planes = [plane for plane in (one, other) if plane is not None]
    y = (one.y if one else 0.0) - (other.y if other else 0.0)
    z = (one.z if one else 0.0) - (other.z if other else 0.0)
    spread = max((plane.outline.reach(y, z) + plane.outline.reach(-y, -z) for plane in planes), default=0.0)
    return kerf * max((plane.steepness for plane in planes), default=1.0) if spread <= CHECK_SLACK else None


def least_length(piece: Neighbour, *, is_first: bool, is_last: bool) -> Mm:
    """The length of bar that the piece takes at least for itself: half of what a neighbour may reach past each end."""
    near = 0.0 if piece.near is None or is_first else _depth(piece.near)
    far = 0.0 if piece.far is None or is_last else _depth(piece.far)
    return piece.end - piece.start - (near + far) / 2.0


def _plane(walk: RingWalk, cut: EndCut, extent: Mm, furthest: Callable[..., Mm]) -> Plane | None:
    """The plane of an end contour; None where it lies in none, or is not where the piece ends."""
    path = cut.path
    xs = [x for x, _, bulge in path.vertices]
    if any(bulge for *_, bulge in path.vertices) or abs(furthest(xs) - extent) > AT_EXTENT:
        return None
    places, values = np.array([walk.point_at(s) for _, s, _ in path.vertices]), np.array(xs)
    slopes, at, off = _fitted(places, values)
    # Where a contour of chords was cut open, its vertex lies on a chord.
    on = off <= IN_PLANE
    if not on.all() and np.count_nonzero(~on) <= MOST_ON_CHORDS and off.max() <= AT_EXTENT:
        slopes, at, _ = _fitted(places[on], values[on])
        off = np.abs(values - at - places @ slopes)[on]
    plane = Plane(walk, at, float(slopes[0]), float(slopes[1]), cut.bevel > BEVELLED)
    return plane if float(off.max()) <= IN_PLANE and _covers(walk, path, plane) else None


def _fitted(places: Numbers, values: Numbers) -> tuple[Numbers, Mm, Numbers]:
    """Slopes and x in the middle of the plane nearest to the points, and how far each is off it."""
    # Differences from the middle: x may be metres, and the slope must not lose digits to it.
    middle, mean = places.mean(axis=0), float(values.mean())
    slopes, *_ = np.linalg.lstsq(places - middle, values - mean, rcond=None)
    at = mean - float(middle @ slopes)
    return slopes, at, np.abs(values - at - places @ slopes)


def _covers(walk: RingWalk, path: Path, plane: Plane) -> bool:
    """Whether the contour follows its plane between its vertices too, within the chords it may be written with."""
    vertices = path.vertices
    once_round = abs(vertices[-1][1] - vertices[0][1] - walk.girth) <= AT_EXTENT
    for (x, s, _), (next_x, next_s, _) in pairwise(vertices):
        for share in (0.25, 0.5, 0.75):
            y, z = walk.point_at(s + share * (next_s - s))
            if abs(x + share * (next_x - x) - plane.at - plane.y * y - plane.z * z) > AT_EXTENT:
                return False
    return once_round


def _least(upper: Plane, lower: Plane) -> Mm:
    """The least of upper less lower over both outlines."""
    y, z = lower.y - upper.y, lower.z - upper.z
    return upper.at - lower.at - max(upper.outline.reach(y, z), lower.outline.reach(y, z))


def _depth(plane: Plane) -> Mm:
    """How far along the bar the end extends."""
    return plane.outline.reach(plane.y, plane.z) + plane.outline.reach(-plane.y, -plane.z)
