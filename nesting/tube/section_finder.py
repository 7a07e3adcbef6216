"""Finds the axis of a solid and the hollow section along it, from the faces that run along the axis.

The axis is the direction along which the most face area runs. Across it, a round tube has a convex cylinder that
nothing reaches beyond, and a coaxial bore. A square or rectangular one has a plane at each of its four sides, with its
normal outwards, and the same wall behind each of them. Cuts across the tube take area away, but leave these faces where
they are, so nothing is cut through the solid to find them and openings at every station do no harm.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.tube.found_section import FIT, Frame, HollowSection
from nesting.tube.outline import Outline
from nesting.tube.solid import Face, Solid, Surface, Vector
from nesting.units import Mm

ALIGNED = 2e-4
"""Sine of the angle up to which directions count as parallel: 0.1 mm on half a metre."""

UNEVEN = 0.02
"""Walls and corners of one tube may differ by this share before the section counts as uneven: a fifth of what a mill
may differ."""

MOST_ASKEW = 0.15
"""Share of the flat area along the axis that may face askew, as walls of slanting slots do. Hexagonal tube has 0.67."""

LEAST_ALONG = 0.5
"""Share of the face area that must run along the axis. A tube as short as it is wide has over nine tenths."""

MOST_DIRECTIONS = 12
"""How many of the largest different directions are tried; a tube's own are among its largest faces."""


@dataclass(frozen=True)
class NoSection:
    """Why there is none. `has_wall` says which of the four sides, one after the other round the solid, have a wall of
    their own; `code` and `reason` are set where the kind of fault is certain.
    """

    has_wall: tuple[bool, ...] = (False, False, False, False)
    code: str = ""
    reason: str = ""


@dataclass(frozen=True, eq=False)
class Along:
    """The axis of a solid, and its planes and cylinders that run along it."""

    axis: Vector
    planes: tuple[Face, ...]
    cylinders: tuple[Face, ...]
    share: float


def faces_along(solid: Solid) -> Along | None:
    """The axis with the most face area along it, and those faces; None for a solid without planes and cylinders."""
    normals = directions((f.direction, f.area) for f in solid.faces if f.surface is Surface.PLANE)
    axes = directions((f.direction, f.area) for f in solid.faces if f.surface is Surface.CYLINDER)
    candidates = list(axes)
    for i, first in enumerate(normals):
        for second in normals[:i]:
            across = np.cross(first, second)
            if np.linalg.norm(across) > 0.1:
                candidates.append(across / np.linalg.norm(across))
    if not candidates:
        return None
    whole = sum(face.area for face in solid.faces)
    best = max((_along(solid, axis, whole) for axis in candidates), key=lambda along: along.share)
    return best if best.share > 0 else None


def directions(weighted: Iterable[tuple[Vector, float]]) -> list[Vector]:
    """The directions with the most area, opposite ones taken as one."""
    ordered = sorted(weighted, key=lambda pair: -pair[1])
    if not ordered:
        return []
    ways, areas = np.array([direction for direction, _ in ordered]), np.array([area for _, area in ordered])
    kept: list[tuple[Vector, float]] = []
    while len(ways):
        # The square of the sine between two unit vectors; thousands of faces at once.
        is_same = 1.0 - (ways @ ways[0]) ** 2 < ALIGNED**2
        is_same[0] = True
        kept.append((ways[0], float(areas[is_same].sum())))
        ways, areas = ways[~is_same], areas[~is_same]
    kept.sort(key=lambda pair: -pair[1])
    return [direction for direction, _ in kept[:MOST_DIRECTIONS]]


def _along(solid: Solid, axis: Vector, whole: float) -> Along:
    if axis[np.argmax(np.abs(axis) > 1e-3)] < 0:  # the first component that counts is positive: x runs a fixed way
        axis = -axis
    planes = [f for f in solid.faces if f.surface is Surface.PLANE and abs(f.direction @ axis) < ALIGNED]
    cylinders = [
        f
        for f in solid.faces
        if f.surface is Surface.CYLINDER and np.linalg.norm(np.cross(f.direction, axis)) < ALIGNED
    ]
    area = sum(f.area for f in planes) + sum(f.area for f in cylinders)
    return Along(axis, tuple(planes), tuple(cylinders), area / whole)


def find_section(solid: Solid, along: Along) -> HollowSection | NoSection:
    """The hollow section along the axis, or why there is none."""
    if along.share < LEAST_ALONG:
        return NoSection()
    found = _round_section(solid, along)
    return found if found is not None else _box_section(solid, along)


def frame_across(axis: Vector, towards: Vector) -> np.ndarray:
    """Axes with x along the tube and y along `towards`."""
    y = towards - (towards @ axis) * axis
    y = y / np.linalg.norm(y)
    return np.array([axis, y, np.cross(axis, y)])


def _round_section(solid: Solid, along: Along) -> HollowSection | NoSection | None:
    """None where it is not round outside."""
    convex = sorted((f for f in along.cylinders if not f.is_hollow), key=lambda f: -f.radius)
    outer = next((f for f in convex if f.area > 0.02 * sum(c.area for c in convex)), None)
    if outer is None:
        return None
    helper = np.eye(3)[int(np.argmin(np.abs(along.axis)))]
    axes = frame_across(along.axis, helper)
    across = (solid.points() - outer.point) @ axes[1:].T
    if float(np.hypot(*across.T).max()) > outer.radius + FIT:
        return None
    bores = [f for f in along.cylinders if f.is_hollow and f.radius < outer.radius]
    coaxial = [f for f in bores if np.hypot(*((f.point - outer.point) @ axes[1:].T)) < FIT]
    if not coaxial:
        wide = [f for f in bores if f.radius > outer.radius / 2]
        if wide:
            return NoSection(code="wall-uneven", reason="has an uneven wall: its bore is not in the middle")
        return NoSection()
    bore = max(coaxial, key=lambda f: sum(c.area for c in coaxial if abs(c.radius - f.radius) < FIT))
    steps = [f for f in along.cylinders if bore.radius + FIT < f.radius < outer.radius - FIT]
    if sum(f.area for f in steps if f in coaxial or not f.is_hollow) > 0.05 * outer.area:
        return NoSection(code="turned", reason="is turned or bored in steps: it looks like a turned part or a fastener")
    low, high = solid.extent(along.axis)
    origin = outer.point + (low - outer.point @ along.axis) * along.axis
    outline = Outline.circle(outer.radius)
    wall = outer.radius - bore.radius
    return HollowSection(Frame(origin, axes), high - low, outline, Outline.circle(bore.radius), wall, is_round=True)


def _box_section(solid: Solid, along: Along) -> HollowSection | NoSection:
    if not along.planes:
        return NoSection()
    towards = directions((f.direction, f.area) for f in along.planes)[0]
    axes = frame_across(along.axis, towards)
    if _share_askew(along.planes, axes) > MOST_ASKEW:
        return NoSection()
    sides = []
    for row in (1, 2):
        low, high = solid.extent(axes[row])
        below, above = (
            _side_at(along.planes, sign * axes[row], sign * (low + high) / 2.0, reach)
            for sign, reach in ((-1.0, -low), (1.0, high))
        )
        if below is None or above is None:
            return NoSection()
        sides.append((-below, above))
    if sides[0][1] - sides[0][0] > sides[1][1] - sides[1][0] + FIT:  # height is the longer one, along z
        axes = np.array([axes[0], axes[2], -axes[1]])
        sides = [sides[1], (-sides[0][1], -sides[0][0])]
    walls = [
        _wall_behind(along.planes, sign * axes[row], sign * sides[row - 1][sign > 0], sides[row - 1])
        for row, sign in ((1, 1), (2, 1), (1, -1), (2, -1))
    ]
    known = [wall for wall in walls if wall is not None]
    if len(known) < 4:
        return NoSection(tuple(wall is not None for wall in walls))
    wall = sum(known) / 4.0
    if _is_uneven(known, wall):
        return NoSection(code="wall-uneven", reason=f"has walls of {min(known):.2f} to {max(known):.2f} mm")
    return _with_corners(solid, along, axes, sides, wall)


def _share_askew(planes: Sequence[Face], axes: np.ndarray) -> float:
    """The share of area of planes that face neither along y nor along z."""
    askew = [f.area for f in planes if np.abs(axes[1:] @ f.direction).max() < 1 - ALIGNED]
    return sum(askew) / sum(f.area for f in planes)


def _side_at(planes: Sequence[Face], side: Vector, middle: Mm, most: Mm) -> Mm | None:
    """How far out most of the area stands that faces a side; between the middle and the furthest point there."""
    reaches = [
        (float(f.point @ side), f.area)
        for f in planes
        if f.direction @ side > 1 - ALIGNED and middle < f.point @ side < most + FIT
    ]
    return _with_most_area(reaches)


def _with_most_area(places: Sequence[tuple[Mm, float]]) -> Mm | None:
    """The place with the most area at it; None if there is no place."""
    if not places:
        return None
    return max(places, key=lambda pair: sum(area for place, area in places if abs(place - pair[0]) < FIT))[0]


def _wall_behind(planes: Sequence[Face], side: Vector, reach: Mm, between: tuple[Mm, Mm]) -> Mm | None:
    """The depth at which most of the area facing inwards stands behind a side."""
    deepest = (between[1] - between[0]) / 2.0
    return _with_most_area(
        [
            (float(reach - f.point @ side), f.area)
            for f in planes
            if f.direction @ side < -(1 - ALIGNED) and FIT < reach - f.point @ side < deepest
        ]
    )


def _is_uneven(values: Sequence[Mm], middle: Mm) -> bool:
    return max(values) - min(values) > max(FIT, UNEVEN * middle)


def _with_corners(
    solid: Solid, along: Along, axes: np.ndarray, sides: list[tuple[Mm, Mm]], wall: Mm
) -> HollowSection | NoSection:
    middle = np.array([(low + high) / 2.0 for low, high in sides])
    width, height = (high - low for low, high in sides)
    low, high = solid.extent(axes[0])
    origin = low * axes[0] + middle @ axes[1:]
    frame = Frame(origin, axes)
    across = frame.local(solid.points())[:, 1:]
    radii: list[Mm] = []
    for hollow, inset in ((False, 0.0), (True, wall)):
        reach = np.array([width / 2.0 - inset, height / 2.0 - inset])
        cylinders = [f for f in along.cylinders if f.is_hollow is hollow]
        found = _corner_radii(cylinders, frame, reach, across)
        if not found:
            return NoSection(code="corners-unclear", reason="has corners that are neither sharp nor round arcs")
        if _is_uneven(found, sum(found) / len(found)):
            words = f"has corner radii of {min(found):.2f} to {max(found):.2f} mm"
            return NoSection(code="corners-uneven", reason=words)
        radii.append(sum(found) / len(found))
    outer = Outline(width, height, radii[0])
    return HollowSection(frame, high - low, outer, outer.inwards(wall, radii[1]), wall, is_round=False)


def _corner_radii(cylinders: Sequence[Face], frame: Frame, reach: np.ndarray, across: np.ndarray) -> list[Mm]:
    """The radii of the corners at (±reach), 0 for a sharp one; a corner that cuts took away is left out."""
    known: list[Mm] = []
    apart = []
    for signs in np.array(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        centres = [(f, frame.local(f.point[None])[0, 1:] * signs) for f in cylinders]
        fitting = [f for f, centre in centres if np.abs(reach - centre - f.radius).max() < FIT]
        if fitting:
            known.append(max(fitting, key=lambda f: f.area).radius)
        else:
            apart.append(float(np.hypot(*(across - reach * signs).T).min()))
    # A round corner keeps 0.41 radii away from where the sides would meet, a sharp one reaches there.
    return known + [0.0 for distance in apart if distance < max(FIT, 0.3 * max(known, default=0.0))]
