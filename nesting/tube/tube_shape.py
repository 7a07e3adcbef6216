"""The ends and openings of a tube: sorts the cut contours of a solid whose hollow section was found.

A cut is one connected run of cut faces with the contours that it leaves on the outer and on the inner surface. A cut
that goes once round both is an end; one that goes round neither is an opening, or a pocket if it does not go through.
Whatever else comes of a solid is no tube that a laser could cut, and is refused with the reason.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from nesting.tube.contours import Contour, Place, chained, edges_at, places
from nesting.tube.section_finder import FIT, HollowSection, NoSection, faces_along, find_section
from nesting.tube.seems import seems
from nesting.tube.solid import Solid
from nesting.units import Deg, Mm

LEAST_SURFACE = 0.3
"""Share of the outer and of the inner surface that must be there. Perforated tube keeps a good half; a hub or a nut,
whose cylinders only happen to be coaxial, much less."""


@dataclass(frozen=True, eq=False)
class End:
    """One end: its contour on the outer surface and the same end's on the inner surface."""

    outer: Contour
    inner: Contour

    @property
    def is_square(self) -> bool:
        return float(np.ptp(self.outer.x)) < FIT


@dataclass(frozen=True, eq=False)
class TubeShape:
    """A recognised tube: where it lies, its two ends by x, and the contours of its openings on the outer surface.

    Only openings that go through the wall are here; `pockets` are contours of hollows that do not, on either surface.
    The leans say how far cut faces lean from square to the outer surface, at most.
    """

    section: HollowSection
    start: End
    end: End
    openings: tuple[Contour, ...]
    pockets: tuple[Contour, ...]
    lean_of_ends: Deg
    lean_of_openings: Deg


MORE_THAN_WHOLE = 1e-3
"""Share by which the volume may be over that of the plain length: kernels sum free-form volumes to about 1e-5."""


class NotATube(Exception):
    """The solid is no tube; the reason goes on from the part's name: "is bent"."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code, self.reason = code, reason


def tube_shape(solid: Solid) -> TubeShape:
    """The ends and openings of the tube that the solid is.

    Raises:
        NotATube: it is something else, or is cut in a way that leaves no two ends.
    """
    if not solid.is_closed or solid.volume <= 0:
        raise NotATube("solid-open", "is not a closed solid: faces are missing. Close the model and export it again")
    along = faces_along(solid)
    section = NoSection() if along is None else find_section(solid, along)
    if isinstance(section, NoSection):
        code, reason = (section.code, section.reason) if section.code else seems(solid, along, section)
        raise NotATube(code, reason)
    _check_nothing_sticks_out(solid, section)
    where = places(solid, section)
    _check_surfaces(solid, section, where)
    outer, inner = (
        chained(solid, edges_at(solid, where, place), section, outline)
        for place, outline in ((Place.OUTER, section.outer), (Place.INNER, section.inner))
    )
    if outer is None or inner is None:
        raise NotATube("contours-open", "has cut edges that do not close. Export the model again")
    ends, openings, pockets = _sorted(solid, section, where, outer, inner)
    whole = section.metal_area * section.length
    if solid.volume > whole * (1.0 + MORE_THAN_WHOLE):
        raise NotATube("solid-contradicts", "holds more metal than its section and length allow. Export it again")
    return TubeShape(
        section,
        ends[0],
        ends[1],
        tuple(openings),
        tuple(pockets),
        _lean(solid, where, [end.outer for end in ends]),
        _lean(solid, where, openings),
    )


def _check_nothing_sticks_out(solid: Solid, section: HollowSection) -> None:
    local = section.frame.local(solid.points())
    outside = section.outer.distance(local[:, 1:])
    inside = -section.inner.distance(local[:, 1:])
    for distances, words in ((outside, "outside"), (inside, "inside")):
        if float(distances.max()) > FIT:
            x = local[int(distances.argmax()), 0]
            raise NotATube(
                "not-only-tube",
                f"looks like a hollow section, but has something {words} of its wall at about {x:.0f} mm (a tab, a "
                f"plate, an insert, or corners that are no arcs). Export the bare tube",
            )


def _check_surfaces(solid: Solid, section: HollowSection, where: Sequence[Place]) -> None:
    for place, outline in ((Place.OUTER, section.outer), (Place.INNER, section.inner)):
        area = sum(face.area for face, at in zip(solid.faces, where, strict=True) if at is place)
        share = area / (outline.girth * section.length)
        if share < LEAST_SURFACE:
            raise NotATube(
                "too-little-surface",
                f"has only {share:.0%} of the {place.value} of the hollow section that it seems to be. If it is a "
                "tube, export it without turned or milled shapes",
            )


def _sorted(
    solid: Solid, section: HollowSection, where: Sequence[Place], outer: Sequence[Contour], inner: Sequence[Contour]
) -> tuple[list[End], list[Contour], list[Contour]]:
    """Ends by x, openings and pockets by x."""
    ends: list[End] = []
    openings: list[Contour] = []
    pockets: list[Contour] = []
    for outside, inside in _groups(solid, where, outer, inner):
        round_outside = [c for c in outside if c.turns]
        round_inside = [c for c in inside if c.turns]
        small = [c for c in outside if not c.turns]
        if len(round_outside) == len(round_inside) == 1:
            ends.append(End(round_outside[0], round_inside[0]))
        elif round_outside or round_inside:
            raise NotATube("end-closed", _closed_words(round_outside, round_inside))
        if inside and outside:
            openings += small
        else:
            pockets += small or [c for c in inside if not c.turns]
    if len(ends) != 2:
        longest = max((float(np.ptp(c.x)) for c in openings), default=0.0)
        if not ends and longest > 0.9 * section.length:
            raise NotATube(
                "slit", "is open from end to end: looks like an open profile, or a tube slit along its whole length"
            )
        raise NotATube("ends-unclear", f"has {len(ends)} ends where a tube has 2")

    def by_x(contour: Contour) -> Mm:
        return contour.middle[0]

    ends.sort(key=lambda end: by_x(end.outer))
    return ends, sorted(openings, key=by_x), sorted(pockets, key=by_x)


def _closed_words(outside: Sequence[Contour], inside: Sequence[Contour]) -> str:
    x = (outside or inside)[0].middle[0]
    if outside and not inside:
        return f"is closed by a cap at about {x:.0f} mm. Export the bare tube"
    if inside and not outside:
        return f"has a wall across its inside at about {x:.0f} mm. Export the bare tube"
    return f"is cut all round at about {x:.0f} mm in a way that is not understood"


def _groups(
    solid: Solid, where: Sequence[Place], outer: Sequence[Contour], inner: Sequence[Contour]
) -> Iterable[tuple[list[Contour], list[Contour]]]:
    """The contours that one connected cut makes: those on the outer and those on the inner surface."""
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
    return groups.values()


def _lean(solid: Solid, where: Sequence[Place], contours: Sequence[Contour]) -> Deg:
    """How far the cut faces lean from square to the outer surface along the contours, most, in degrees."""
    most = 0.0
    for number in (i for contour in contours for i in contour.edges):
        edge = solid.edges[number]
        surface = next(solid.faces[f] for f in edge.faces if where[f] is Place.OUTER)
        for face in (solid.faces[f] for f in edge.faces if where[f] is Place.CUT):
            out, cut = surface.normals(edge.points), face.normals(edge.points)
            if out is not None and cut is not None:
                most = max(most, float(np.abs(np.sum(out * cut, axis=1)).max()))
    return float(np.degrees(np.arcsin(min(1.0, most))))
