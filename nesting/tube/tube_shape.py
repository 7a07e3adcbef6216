"""The ends and openings of a tube: sorts the cut contours of a solid whose hollow section was found.

A cut is one connected run of cut faces with the contours that it leaves on the outer and on the inner surface. A cut
that goes once round both is an end; one that goes round neither is an opening, or a pocket if it does not go through.
Whatever else comes of a solid is no tube that a laser could cut, and is refused with the reason.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from nesting.model.section import SectionShape
from nesting.tube.contours import AnyOutline, Contour, Place, chained, cuts, edges_at, places
from nesting.tube.found_section import FIT, BarSection, FoundSection, HollowSection
from nesting.tube.profile_finder import find_profile
from nesting.tube.section_finder import NoSection, faces_along, find_section
from nesting.tube.seems import seems
from nesting.tube.slit import taken_apart
from nesting.tube.solid import Solid
from nesting.units import Deg, Mm

LEAST_SURFACE = 0.3
"""Share of the outer and of the inner surface that must be there. Perforated tube keeps a good half; a hub or a nut,
whose cylinders only happen to be coaxial, much less."""


@dataclass(frozen=True, eq=False)
class End:
    """One end: its contour on the outer surface and, of hollow section, the same end's on the inner surface.

    `faces` are the numbers of its cut faces, `lean` says how far they lean from square to the surface, at most.
    """

    outer: Contour
    inner: Contour | None
    faces: tuple[int, ...]
    lean: Deg

    @property
    def is_square(self) -> bool:
        return float(np.ptp(self.outer.x)) < FIT


@dataclass(frozen=True, eq=False)
class Opening:
    """One opening: its contour on the outer surface, with cut faces and lean as those of an end.

    Where a beam passes through a wall that has both its faces on the outer surface, as in open profiles, `far` has the
    contours on the other one. A slit from end to end has its width, others 0.
    """

    outer: Contour
    far: tuple[Contour, ...]
    faces: tuple[int, ...]
    lean: Deg
    slit: Mm = 0.0

    @property
    def middle(self) -> tuple[Mm, Mm]:
        return self.outer.middle


@dataclass(frozen=True, eq=False)
class TubeShape:
    """A recognised tube or bar: where it lies, its two ends by x, and its openings.

    Only openings that go through the wall are here; `pockets` are contours of hollows that do not, on either surface.
    """

    section: FoundSection
    start: End
    end: End
    openings: tuple[Opening, ...]
    pockets: tuple[Contour, ...]

    @property
    def lean_of_ends(self) -> Deg:
        return max(self.start.lean, self.end.lean)

    @property
    def lean_of_openings(self) -> Deg:
        return max((opening.lean for opening in self.openings), default=0.0)

    @property
    def cut_length(self) -> Mm:
        """The way of the beam along the outer surface. In open profiles and bar both faces of each wall are outer
        surface and one cut makes both edges, so it is half their length.
        """
        edges = [self.start.outer.length, self.end.outer.length]
        edges += [contour.length for opening in self.openings for contour in (opening.outer, *opening.far)]
        return sum(edges) / (2.0 if isinstance(self.section, BarSection) else 1.0)


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
    section: FoundSection | NoSection = NoSection() if along is None else find_section(solid, along)
    if not isinstance(section, NoSection):
        return _shaped(solid, section)
    if along is not None:
        profile = find_profile(solid, along)
        if profile is not None:
            with suppress(NotATube):  # then what the solid seems to be says more
                return _shaped(solid, profile)
    code, reason = (section.code, section.reason) if section.code else seems(solid, along, section)
    raise NotATube(code, reason)


def _shaped(solid: Solid, section: FoundSection) -> TubeShape:
    _check_nothing_sticks_out(solid, section)
    where = places(solid, section)
    _check_surfaces(solid, section, where)
    outer = chained(solid, edges_at(solid, where, Place.OUTER), section, section.outer)
    inner: list[Contour] | None = []
    if isinstance(section, HollowSection):
        inner = chained(solid, edges_at(solid, where, Place.INNER), section, section.inner)
    if outer is None or inner is None:
        raise NotATube("contours-open", "has cut edges that do not close. Export the model again")
    ends, openings, pockets = _sorted(solid, section, where, outer, inner)
    whole = section.metal_area * section.length
    if solid.volume > whole * (1.0 + MORE_THAN_WHOLE):
        raise NotATube("solid-contradicts", "holds more metal than its section and length allow. Export it again")
    return TubeShape(section, ends[0], ends[1], tuple(openings), tuple(pockets))


def _check_nothing_sticks_out(solid: Solid, section: FoundSection) -> None:
    local = section.frame.local(solid.points())
    ways = [(section.outer.distance(local[:, 1:]), "outside")]
    if isinstance(section, HollowSection):
        ways.append((-section.inner.distance(local[:, 1:]), "inside"))
    for distances, words in ways:
        if float(distances.max()) > FIT:
            x = local[int(distances.argmax()), 0]
            raise NotATube(
                "not-only-tube",
                f"looks like a hollow section, but has something {words} of its wall at about {x:.0f} mm (a tab, a "
                f"plate, an insert, or corners that are no arcs). Export the bare tube",
            )


def _check_surfaces(solid: Solid, section: FoundSection, where: Sequence[Place]) -> None:
    surfaces: list[tuple[Place, AnyOutline]] = [(Place.OUTER, section.outer)]
    if isinstance(section, HollowSection):
        surfaces.append((Place.INNER, section.inner))
    for place, outline in surfaces:
        area = sum(face.area for face, at in zip(solid.faces, where, strict=True) if at is place)
        share = area / (outline.girth * section.length)
        if share < LEAST_SURFACE:
            raise NotATube(
                "too-little-surface",
                f"has only {share:.0%} of the {place.value} of the hollow section that it seems to be. If it is a "
                "tube, export it without turned or milled shapes",
            )


def _sorted(
    solid: Solid, section: FoundSection, where: Sequence[Place], outer: Sequence[Contour], inner: Sequence[Contour]
) -> tuple[list[End], list[Opening], list[Contour]]:
    """Ends by x, openings and pockets by x."""
    ends: list[End] = []
    openings: list[Opening] = []
    pockets: list[Contour] = []
    for faces, outside, inside in cuts(solid, where, outer, inner):
        if isinstance(section, HollowSection) and len(outside) == len(inside) == 1:
            slit = _slit(solid, section, where, outside[0], inside[0])
            if slit is not None:
                ends += slit[0]
                openings.append(slit[1])
                continue
        round_outside = [c for c in outside if c.turns]
        round_inside = [c for c in inside if c.turns]
        small = [c for c in outside if not c.turns]
        if len(round_outside) == 1 and len(round_inside) == isinstance(section, HollowSection):
            end = round_outside[0]
            ends.append(End(end, round_inside[0] if round_inside else None, faces, _lean(solid, where, [end])))
        elif round_outside or round_inside:
            raise NotATube("end-closed", _closed_words(round_outside, round_inside))
        if isinstance(section, BarSection):
            if len(small) > 1 or (small and not _is_on_one_side(small[0], section)):
                openings.append(Opening(small[0], tuple(small[1:]), faces, _lean(solid, where, small)))
            else:
                pockets += small
        elif inside and outside:
            openings += [Opening(contour, (), faces, _lean(solid, where, [contour])) for contour in small]
        else:
            pockets += small or [c for c in inside if not c.turns]
    if len(ends) != 2:
        longest = max((float(np.ptp(o.outer.x)) for o in openings), default=0.0)
        if not ends and longest > 0.9 * section.length:
            raise NotATube(
                "slit",
                "is open from end to end: looks like an open profile that is not read, or a tube whose slit is not "
                "straight or is wider than a third of its side",
            )
        raise NotATube("ends-unclear", f"has {len(ends)} ends where a tube has 2")

    def by_x(cut: Contour | Opening) -> Mm:
        return cut.middle[0]

    ends.sort(key=lambda end: by_x(end.outer))
    return ends, sorted(openings, key=by_x), sorted(pockets, key=by_x)


def _slit(
    solid: Solid, section: HollowSection, where: Sequence[Place], outside: Contour, inside: Contour
) -> tuple[list[End], Opening] | None:
    """The two ends of a tube that is slit from end to end, and its slit; None where it is not."""
    if outside.turns or inside.turns or float(np.ptp(outside.x)) < section.length - FIT:
        return None
    outer = taken_apart(solid, outside, section, section.outer)
    inner = taken_apart(solid, inside, section, section.inner)
    if outer is None or inner is None:
        return None

    def faces(*contours: Contour) -> tuple[int, ...]:
        edges = [solid.edges[number] for contour in contours for number in contour.edges]
        return tuple(sorted({f for edge in edges for f in edge.faces if where[f] is Place.CUT}))

    ends = [
        End(over, under, faces(over, under), _lean(solid, where, [over]))
        for over, under in ((outer.start, inner.start), (outer.end, inner.end))
    ]
    opening = Opening(outer.slit, (), faces(outer.slit, inner.slit), _lean(solid, where, [outer.slit]), outer.width)
    return ends, opening


def _is_on_one_side(contour: Contour, section: BarSection) -> bool:
    """Whether a contour keeps to one line or arc of the outline: a hollow from that side, and no notch."""
    if section.section.shape is SectionShape.ROUND_BAR:
        return True
    across = section.outer.at(contour.s)
    return any(float(np.abs(span.nearest(across)[0]).max()) < FIT for span in section.outer.spans)


def _closed_words(outside: Sequence[Contour], inside: Sequence[Contour]) -> str:
    x = (outside or inside)[0].middle[0]
    if outside and not inside:
        return f"is closed by a cap at about {x:.0f} mm. Export the bare tube"
    if inside and not outside:
        return f"has a wall across its inside at about {x:.0f} mm. Export the bare tube"
    return f"is cut all round at about {x:.0f} mm in a way that is not understood"


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
