"""Finds open profiles, solid bar and oval tube along the axis of a solid that is neither round nor box tube.

Every shape that the bar might have is supposed in every way that it may lie; its measures are taken from where most of
the area of planes and cylinders stands. A supposition holds where nothing of the solid reaches beyond the outline that
follows from it and faces of the solid cover that outline; the best covered one is taken.
"""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from nesting.errors import BadValue
from nesting.model.section import Section
from nesting.tube.contours import outer_area
from nesting.tube.found_section import FIT, ROUND_OFF, BarSection, Frame, HollowSection
from nesting.tube.outline import Outline
from nesting.tube.ring_outline import RingOutline
from nesting.tube.section_finder import ALIGNED, UNEVEN, Along, directions, frame_across
from nesting.tube.solid import Face, Solid
from nesting.units import Mm

LEAST_COVERED = 0.4
"""Share of the outline times the length that faces must cover: openings and mitres leave more of usual parts."""

LEAST_METAL = 0.4
"""Share of the plain length's metal that must be there, for the same reason."""

WIDEST_FLAT: Mm = 150.0
LEAST_FLAT: Mm = 3.0
FLAT_LENGTH = 5.0
"""Flat bar comes up to 150 mm wide (EN 10058, from memory). What is wider, thinner than 3 mm, or shorter than five
times its width is taken for a plate; common practice, no source."""

BAR_LENGTH = 2.5
"""Length over side from which square or flat stock is bar and not a block; common practice, no source."""


@dataclass(frozen=True, eq=False)
class _Lying:
    """The planes and cylinders along a bar in one of the ways it may lie: y and z across, from the middle over all."""

    frame: Frame
    length: Mm
    width: Mm
    height: Mm
    planes: tuple[Face, ...]
    cylinders: tuple[Face, ...]

    def face_at(self, row: int, sign: float, least: Mm, most: Mm) -> Mm | None:
        """Where most of the area stands that faces along y (row 1) or z (row 2), between two places on that way."""
        side = sign * self.frame.axes[row]
        places = []
        for face in self.planes:
            if face.direction @ side > 1 - ALIGNED:
                place = float(self.frame.local(face.point[None])[0, row])
                if least < place < most:
                    places.append((place, face.area))
        if not places:
            return None
        return max(places, key=lambda one: sum(area for place, area in places if abs(place - one[0]) < FIT))[0]

    def radius_at(self, y: Mm, z: Mm, towards: tuple[float, float], *, hollow: bool) -> Mm:
        """The radius that rounds the corner (y, z) where the arc's centre lies `towards`; 0 for a sharp one."""
        best, area = 0.0, 0.0
        for face in self.cylinders:
            centre = self.frame.local(face.point[None])[0, 1:]
            off = np.abs(centre - (np.array((y, z)) + face.radius * np.array(towards))).max()
            if face.is_hollow is hollow and off < FIT and face.area > area:
                best, area = face.radius, face.area
        return round(best, ROUND_OFF)


def find_profile(solid: Solid, along: Along) -> HollowSection | BarSection | None:
    """The best supposition that holds, or None."""
    found: list[tuple[float, BarSection]] = []
    length = solid.extent(along.axis)
    for section, frame in _supposed(solid, along):
        bar = BarSection(frame, length[1] - length[0], RingOutline(section.outlines[0]), section)
        covered = _covered(solid, bar)
        if covered is not None:
            found.append((covered, bar))
    if found:
        return max(found, key=lambda pair: pair[0])[1]
    return _oval(solid, along)


def _covered(solid: Solid, bar: BarSection) -> float | None:
    """The share of the outline that faces cover, or None where the supposition does not hold."""
    metal = bar.metal_area * bar.length
    if not LEAST_METAL < solid.volume / metal < 1.001:
        return None
    if float(bar.outer.distance(bar.frame.local(solid.points())[:, 1:]).max()) > FIT:
        return None
    share = outer_area(solid, bar) / (bar.outer.girth * bar.length)
    return share if share > LEAST_COVERED else None


def _supposed(solid: Solid, along: Along) -> Iterator[tuple[Section, Frame]]:
    yield from _round_bars(solid, along)
    for lying in _ways_to_lie(solid, along):
        for suppose in (_bar, _angle, _channel, _i_beam, _tee):
            with suppress(BadValue):
                section = suppose(lying)
                if section is not None:
                    yield section, lying.frame


def _ways_to_lie(solid: Solid, along: Along) -> Iterator[_Lying]:
    """Four quarter turns, and the same seen from the other end: an unequal angle looks the other way round there."""
    if not along.planes:
        return
    towards = directions((f.direction, f.area) for f in along.planes)[0]
    for axis in (along.axis, -along.axis):
        axes = frame_across(axis, towards)
        for _ in range(4):
            axes = np.array([axes[0], axes[2], -axes[1]])
            reach = [solid.extent(row) for row in axes]
            middle = np.array([reach[0][0], sum(reach[1]) / 2.0, sum(reach[2]) / 2.0])
            width, height = (round(high - low, ROUND_OFF) for low, high in reach[1:])
            yield _Lying(
                Frame(middle @ axes, axes), reach[0][1] - reach[0][0], width, height, along.planes, along.cylinders
            )


def _round_bars(solid: Solid, along: Along) -> Iterator[tuple[Section, Frame]]:
    convex = [f for f in along.cylinders if not f.is_hollow]
    if not convex:
        return
    outer = max(convex, key=lambda f: f.radius)
    low, high = solid.extent(along.axis)
    if high - low > outer.radius:
        helper = np.eye(3)[int(np.argmin(np.abs(along.axis)))]
        origin = outer.point + (low - outer.point @ along.axis) * along.axis
        yield Section.round_bar(round(2.0 * outer.radius, ROUND_OFF)), Frame(origin, frame_across(along.axis, helper))


def _bar(lying: _Lying) -> Section | None:
    wide, tall = lying.width, lying.height
    if abs(wide - tall) < FIT / 10.0:
        wide = tall
    length = lying.length
    if wide > tall or length < BAR_LENGTH * tall:
        return None
    is_plate = tall > WIDEST_FLAT or wide < LEAST_FLAT or length < FLAT_LENGTH * tall
    if wide < tall / 2.0 and is_plate:
        return None
    return Section.bar(tall, wide, lying.radius_at(wide / 2, tall / 2, (-1, -1), hollow=False))


def _alike(*values: Mm | None) -> Mm | None:
    """The middle of values that are one thickness, or None where one is missing or they differ."""
    known = [value for value in values if value is not None]
    middle = sum(known) / max(1, len(known))
    if len(known) < len(values) or max(known) - min(known) > max(FIT, UNEVEN * middle):
        return None
    return round(middle, ROUND_OFF)


def _angle(lying: _Lying) -> Section | None:
    """The heel lower left."""
    y, z = lying.width / 2.0, lying.height / 2.0
    if y > z + FIT / 10.0:
        return None
    upright, flat = lying.face_at(1, 1.0, FIT - y, y - FIT), lying.face_at(2, 1.0, FIT - z, z - FIT)
    wall = _alike(*(None if face is None else face + half for face, half in ((upright, y), (flat, z))))
    if wall is None:
        return None
    root = lying.radius_at(wall - y, wall - z, (1, 1), hollow=True)
    toe = max(
        lying.radius_at(y, wall - z, (-1, -1), hollow=False), lying.radius_at(wall - y, z, (-1, -1), hollow=False)
    )
    heel = lying.radius_at(-y, -z, (1, 1), hollow=False)
    height = lying.width if abs(y - z) < FIT / 20.0 else lying.height
    return Section.angle(height, lying.width, wall, root, toe, heel)


def _channel(lying: _Lying) -> Section | None:
    """The web on the left."""
    y, z = lying.width / 2.0, lying.height / 2.0
    web, flange = lying.face_at(1, 1.0, FIT - y, y - FIT), _flanges(lying)
    if web is None or flange is None:
        return None
    wall = round(web + y, ROUND_OFF)
    root = max(lying.radius_at(wall - y, sign * (z - flange), (1, -sign), hollow=True) for sign in (1, -1))
    toe = max(lying.radius_at(y, sign * (z - flange), (-1, sign), hollow=False) for sign in (1, -1))
    corner = max(lying.radius_at(-y, sign * z, (1, -sign), hollow=False) for sign in (1, -1))
    return Section.channel(lying.height, lying.width, wall, flange, root, toe, corner)


def _i_beam(lying: _Lying) -> Section | None:
    flange, wall = _flanges(lying), _web(lying)
    if flange is None or wall is None:
        return None
    return Section.i_beam(lying.height, lying.width, wall, flange, *_root_and_toe(lying, wall, flange))


def _tee(lying: _Lying) -> Section | None:
    """The flange on top."""
    z = lying.height / 2.0
    under, wall = lying.face_at(2, -1.0, FIT - z, z - FIT), _web(lying)
    if under is None or wall is None:
        return None
    flange = round(z - under, ROUND_OFF)
    return Section.tee(lying.height, lying.width, wall, flange, *_root_and_toe(lying, wall, flange))


def _flanges(lying: _Lying) -> Mm | None:
    """The thickness of the flange above and the one below."""
    z = lying.height / 2.0
    upper, lower = lying.face_at(2, -1.0, 0.0, z - FIT), lying.face_at(2, 1.0, FIT - z, 0.0)
    return _alike(None if upper is None else z - upper, None if lower is None else lower + z)


def _web(lying: _Lying) -> Mm | None:
    """The thickness of a web or stem in the middle."""
    y = lying.width / 2.0
    right, left = lying.face_at(1, 1.0, 0.0, y - FIT), lying.face_at(1, -1.0, FIT - y, 0.0)
    half = _alike(right, None if left is None else -left)
    return None if half is None else round(2.0 * half, ROUND_OFF)


def _root_and_toe(lying: _Lying, wall: Mm, flange: Mm) -> tuple[Mm, Mm]:
    """The radii under the upper flange."""
    y, z = lying.width / 2.0, lying.height / 2.0 - flange
    root = max(lying.radius_at(sign * wall / 2.0, z, (sign, -1), hollow=True) for sign in (1, -1))
    return root, max(lying.radius_at(sign * y, z, (-sign, 1), hollow=False) for sign in (1, -1))


def _oval(solid: Solid, along: Along) -> HollowSection | None:
    """Oval tube: two flat sides, half circles between them, and the same a wall further in."""
    for lying in _ways_to_lie(solid, along):
        radius, flat = lying.width / 2.0, (lying.height - lying.width) / 2.0
        if flat <= FIT:
            continue
        inner = [lying.face_at(1, -sign, *sorted((sign * FIT, sign * (radius - FIT)))) for sign in (1.0, -1.0)]
        wall = _alike(*(None if face is None else radius - abs(face) for face in inner))
        if wall is None:
            continue
        outline = Outline(lying.width, lying.height, radius)
        found = HollowSection(
            lying.frame, lying.length, outline, outline.inwards(wall, radius - wall), wall, is_round=False
        )
        across = found.frame.local(solid.points())[:, 1:]
        is_within = outline.distance(across).max() < FIT and found.inner.distance(across).min() > -FIT
        if is_within and outer_area(solid, found) > LEAST_COVERED * outline.girth * lying.length:
            return found
    return None
