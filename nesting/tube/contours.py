"""The cut contours of a tube: closed runs of edges on its outer (or inner) surface, mapped to x and s.

x runs along the tube, s round the outline. Which faces belong to the outer and the inner surface is found here too;
every other face is a cut face: part of an end or of an opening. A contour that goes once round is an end, one that does
not is an opening. Seams, split half-cylinders and notched ends need no case of their own.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

import numpy as np

from nesting.model.section import SectionShape
from nesting.tube.found_section import FIT, BarSection, FoundSection, HollowSection
from nesting.tube.outline import Numbers, Outline
from nesting.tube.ring_outline import RingOutline
from nesting.tube.section_finder import ALIGNED
from nesting.tube.solid import Edge, Face, Solid, Surface
from nesting.units import Mm, Mm2

SAME_END: Mm = 5e-3
"""Ends of edges this close meet: kernels keep them within 1e-3 mm; half the shortest cut worth making."""


FOLLOWED: Mm = 2e-3
"""How near the points of a contour follow its edges: what is summed along it is then right to a hundredth."""

type AnyOutline = Outline | RingOutline


class Place(Enum):
    """What a face is part of."""

    OUTER = "outer surface"
    INNER = "inner surface"
    CUT = "end or opening"


@dataclass(frozen=True, eq=False)
class Contour:
    """One closed contour.

    `x` and `s` run along it, first point repeated at the end; s goes on counting where it passes the start of the
    outline, so it ends `turns` girths from where it began: 1 or -1 for an end, 0 for an opening. `edges` are the
    numbers of its edges in the solid, and `forwards` says which of them are run from their first point on.
    """

    x: Numbers
    s: Numbers
    length: Mm
    turns: int
    edges: tuple[int, ...]
    forwards: tuple[bool, ...]

    @property
    def middle(self) -> tuple[Mm, Mm]:
        """(x, s) half-way between its extremes."""
        return float(self.x.min() + self.x.max()) / 2.0, float(self.s.min() + self.s.max()) / 2.0


def places(solid: Solid, section: FoundSection) -> list[Place]:
    """For each face, what it is part of."""
    edges_of: list[list[Edge]] = [[] for _ in solid.faces]
    for edge in solid.edges:
        for face in edge.faces:
            edges_of[face].append(edge)
    return [_place(face, edges_of[i], section) for i, face in enumerate(solid.faces)]


def outer_area(solid: Solid, section: FoundSection) -> Mm2:
    """The area of the faces on the outer surface."""
    where = places(solid, section)
    return sum(face.area for face, place in zip(solid.faces, where, strict=True) if place is Place.OUTER)


def _place(face: Face, edges: Sequence[Edge], section: FoundSection) -> Place:
    if isinstance(section, BarSection):
        return Place.OUTER if _is_on_bar(face, edges, section) else Place.CUT
    for place, outline in ((Place.OUTER, section.outer), (Place.INNER, section.inner)):
        if face.surface is Surface.PLANE:
            is_there = not section.is_round and _plane_is_on(face, section, outline, outwards=place is Place.OUTER)
        elif face.surface is Surface.CYLINDER:
            is_there = face.is_hollow is (place is Place.INNER) and _cylinder_is_on(face, section, outline)
        else:
            is_there = face.surface is Surface.FREE and _free_face_is_on(face, edges, section, outline)
        if is_there:
            return place
    return Place.CUT


def _is_on_bar(face: Face, edges: Sequence[Edge], section: BarSection) -> bool:
    """Whether one span of the outline carries the face; a wall of a slot may lie in line with one, but not on it."""
    if face.surface not in (Surface.PLANE, Surface.CYLINDER):
        return face.surface is Surface.FREE and _free_face_is_on(face, edges, section, section.outer)
    along, *across = section.frame.axes @ face.direction
    if face.surface is Surface.PLANE:
        if abs(along) > ALIGNED:
            return False
    elif abs(abs(along) - 1.0) > ALIGNED:
        return False
    points = section.frame.local(np.concatenate([edge.points for edge in edges]))[:, 1:]
    point = section.frame.local(face.point[None])[0, 1:]
    for span in section.outer.spans:
        if span.centre is None:
            way = (span.end - span.start) / span.length
            fits = face.surface is Surface.PLANE and np.array(across) @ np.array([way[1], -way[0]]) > 1.0 - ALIGNED
        else:
            off = float(np.hypot(*(span.centre - point)))
            fits = face.surface is Surface.CYLINDER and off < FIT and abs(face.radius - span.radius) < FIT
            fits = fits and face.is_hollow is (span.sweep < 0)
        if fits and float(np.abs(span.nearest(points)[0]).max()) < FIT:
            return True
        if fits and section.section.shape is SectionShape.ROUND_BAR:
            return True  # its two half circles carry one face
    return False


def _plane_is_on(face: Face, section: HollowSection, outline: Outline, *, outwards: bool) -> bool:
    _, y, z = section.frame.axes @ face.direction
    _, at_y, at_z = section.frame.local(face.point[None])[0]
    sign = 1.0 if outwards else -1.0
    for across, other, at, reach in ((y, z, at_y, outline.width / 2), (z, y, at_z, outline.height / 2)):
        if abs(abs(across) - 1.0) < ALIGNED and abs(other) < ALIGNED:
            return bool(abs(at * across * sign - reach) < FIT)
    return False


def _cylinder_is_on(face: Face, section: HollowSection, outline: Outline) -> bool:
    along, *_ = section.frame.axes @ face.direction
    centre = np.abs(section.frame.local(face.point[None])[0, 1:])
    is_corner = bool(np.abs(centre - np.array(outline.flats)).max() < FIT)
    return abs(abs(along) - 1.0) < ALIGNED and is_corner and abs(face.radius - outline.radius) < FIT


def _free_face_is_on(face: Face, edges: Sequence[Edge], section: FoundSection, outline: AnyOutline) -> bool:
    if face.samples is None:
        return False
    points = np.concatenate([face.samples, *(edge.points for edge in edges)])
    return float(np.abs(outline.distance(section.frame.local(points)[:, 1:])).max()) < FIT


def edges_at(solid: Solid, where: Sequence[Place], surface: Place) -> list[int]:
    """The numbers of the edges in which a surface ends: one of its faces on one side, none on the other."""
    return [
        i
        for i, edge in enumerate(solid.edges)
        if [where[f] for f in edge.faces].count(surface) == 1 and not edge.is_seam
    ]


def chained(solid: Solid, numbers: Sequence[int], section: FoundSection, outline: AnyOutline) -> list[Contour] | None:
    """The closed contours that the edges make; None where an edge finds no other to go on with."""
    meeting = _Meeting()
    ends = [(meeting.at(solid.edges[i].points[0]), meeting.at(solid.edges[i].points[-1])) for i in numbers]
    at: dict[int, list[int]] = {}
    for k, (first, last) in enumerate(ends):
        at.setdefault(first, []).append(k)
        at.setdefault(last, []).append(k)
    if any(len(edges) % 2 for edges in at.values()):
        return None
    free = set(range(len(ends)))
    contours = []
    while free:
        k = min(free)
        start, here = ends[k][0], ends[k][0]
        run: list[tuple[int, bool]] = []
        while True:
            free.remove(k)
            forwards = ends[k][0] == here
            here = ends[k][1] if forwards else ends[k][0]
            run.append((numbers[k], forwards))
            if here == start:
                break
            k = next(other for other in at[here] if other in free)
        contour = _contour(solid, run, section, outline)
        if contour.length > 4.0 * SAME_END:  # a sliver left by a program, not a cut
            contours.append(contour)
    return contours


def _contour(solid: Solid, run: Sequence[tuple[int, bool]], section: FoundSection, outline: AnyOutline) -> Contour:
    pieces = [solid.edges[i].fine_points(FOLLOWED) for i, _ in run]
    pieces = [piece if forwards else piece[::-1] for piece, (_, forwards) in zip(pieces, run, strict=True)]
    local = section.frame.local(np.concatenate(pieces))
    around = outline.around(local[:, 1:])
    steps = np.diff(around)
    steps -= outline.girth * np.round(steps / outline.girth)
    s = around[0] + np.concatenate(([0.0], np.cumsum(steps)))
    turns = round(float(s[-1] - s[0]) / outline.girth)
    numbers, ways = zip(*run, strict=True)
    return Contour(local[:, 0], s, sum(solid.edges[i].length for i in numbers), turns, numbers, ways)


def cuts(
    solid: Solid, where: Sequence[Place], outer: Sequence[Contour], inner: Sequence[Contour]
) -> Iterable[tuple[tuple[int, ...], list[Contour], list[Contour]]]:
    """The faces of each connected cut, and the contours that it makes on the outer and on the inner surface."""
    parent = list(range(len(solid.faces) + len(outer) + len(inner)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for edge in solid.edges:
        cut = [f for f in edge.faces if where[f] is Place.CUT]
        for first, second in pairwise(cut):
            parent[root(first)] = root(second)
    by_edge: dict[int, int] = {}
    for node, contour in enumerate([*outer, *inner], start=len(solid.faces)):
        for i in contour.edges:
            # Where outer and inner surface meet in one edge, the edge itself joins the two contours.
            parent[root(node)] = root(by_edge.setdefault(i, node))
            for face in solid.edges[i].faces:
                if where[face] is Place.CUT:
                    parent[root(node)] = root(face)
    groups: dict[int, tuple[list[Contour], list[Contour]]] = {}
    for k, contour in enumerate([*outer, *inner]):
        group = groups.setdefault(root(len(solid.faces) + k), ([], []))
        group[0 if k < len(outer) else 1].append(contour)
    faces: dict[int, list[int]] = {}
    for i, place in enumerate(where):
        if place is Place.CUT:
            faces.setdefault(root(i), []).append(i)
    return [(tuple(faces.get(key, ())), outside, inside) for key, (outside, inside) in groups.items()]


class _Meeting:
    """Numbers for points, the same number for points that meet."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int, int], list[tuple[np.ndarray, int]]] = {}
        self._count = 0

    def at(self, point: np.ndarray) -> int:
        cell = tuple(int(c) for c in np.floor(point / SAME_END))
        for near in self._near(cell):
            for known, number in self._cells.get(near, ()):
                if np.linalg.norm(known - point) < SAME_END:
                    return number
        self._cells.setdefault((cell[0], cell[1], cell[2]), []).append((point, self._count))
        self._count += 1
        return self._count - 1

    @staticmethod
    def _near(cell: tuple[int, ...]) -> Iterator[tuple[int, int, int]]:
        steps = (-1, 0, 1)
        return ((cell[0] + i, cell[1] + j, cell[2] + k) for i in steps for j in steps for k in steps)
