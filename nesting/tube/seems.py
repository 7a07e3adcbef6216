"""Says what a solid seems to be that is no straight piece of a known section, so that the sender knows what to do.

These are guesses for a sentence; nothing is cut by them.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np

from nesting.tube.found_section import FIT
from nesting.tube.section_finder import ALIGNED, Along, NoSection
from nesting.tube.solid import Face, Solid, Surface, Vector
from nesting.units import Mm

type Guess = tuple[str, str]
"""Code, and words that go on from the part's name."""

UNKNOWN: Guess = (
    "not-a-tube",
    "is not recognised: no straight tube, open profile or bar of a known section was found in it",
)


THINNEST: Mm = 0.05
"""Foil; no sheet or piece of tube is thinner, and a model that is has lost its length or its unit."""


def seems(solid: Solid, along: Along | None, section: NoSection) -> Guess:
    """What the solid seems to be."""
    whole = sum(face.area for face in solid.faces)

    def share(surface: Surface) -> float:
        return sum(face.area for face in solid.faces if face.surface is surface) / whole

    if share(Surface.SPHERE) > 0.9:
        return "ball", "is a ball, not a tube"
    for guess in (_bent(solid), _plate(solid, whole)):
        if guess is not None:
            return guess
    if share(Surface.FREE) > 0.3:
        return "free-form", "is made of free-form surfaces in which no straight section was found"
    if along is None:
        return UNKNOWN
    for guess in (_turned(solid, along, whole), _straight(solid, along, section)):
        if guess is not None:
            return guess
    return UNKNOWN


def _bent(solid: Solid) -> Guess | None:
    """A bend in a tube leaves parts of rings: tori in round tube; in square tube cylinders of four or more radii, or
    the two or more of its corners, about one axis.
    """
    words = ("bent", "is bent. Only straight tube is read; order straight pieces, or the bent part from a bender")
    tori = [f for f in solid.faces if f.surface is Surface.TORUS and f.turn < 0.99]
    if _share_axis(tori, lambda f: f.tube_radius) >= 2 and sum(f.area for f in tori) > 0.02 * sum(
        f.area for f in solid.faces
    ):
        return words
    arcs = [f for f in solid.faces if f.surface is Surface.CYLINDER and f.turn < 0.75]
    return words if _share_axis(arcs, lambda f: f.radius) >= 4 else None


def _share_axis(faces: Sequence[Face], radius: Callable[[Face], Mm]) -> int:
    """The most different radii about one axis."""
    most = 0
    for face in faces:
        radii: list[Mm] = []
        for other in faces:
            apart = other.point - face.point
            off = np.linalg.norm(apart - (apart @ face.direction) * face.direction)
            aligned = np.linalg.norm(np.cross(face.direction, other.direction)) < ALIGNED
            if aligned and off < FIT and all(abs(radius(other) - known) > FIT for known in radii):
                radii.append(radius(other))
        most = max(most, len(radii))
    return most


def _plate(solid: Solid, whole: float) -> Guess | None:
    """Two large faces back to back, near each other, hold most of the area."""
    planes = [f for f in solid.faces if f.surface is Surface.PLANE]
    if not planes:
        return None
    largest = max(planes, key=lambda f: f.area)
    along = [f for f in planes if np.linalg.norm(np.cross(f.direction, largest.direction)) < ALIGNED]
    low, high = solid.extent(largest.direction)
    faces = sum(
        f.area
        for f in along
        if min(abs(f.point @ largest.direction - low), abs(f.point @ largest.direction - high)) < FIT
    )
    thickness = high - low
    if thickness < THINNEST:
        return (
            "no-length",
            f"is less than {THINNEST:g} mm thick or long, which cannot be cut. Check its length and unit",
        )
    others = sorted(reach[1] - reach[0] for reach in (solid.extent(d) for d in _across(largest.direction, planes)))
    if thickness > 0.25 * others[0] or faces < 0.55 * whole:
        return None
    fill = solid.volume / (thickness * others[0] * others[1])
    if faces / 2.0 * thickness > 1.02 * solid.volume or fill < 0.05:
        return None
    return "plate", f"is a plate of {_number(thickness)} mm. Draw it as DXF, in one contour for each cut"


def _across(direction: Vector, planes: Sequence[Face]) -> tuple[Vector, Vector]:
    """Two directions across, the first along a side of the solid where it has one."""
    sides = [f for f in planes if abs(f.direction @ direction) < ALIGNED]
    start = max(sides, key=lambda f: f.area).direction if sides else np.eye(3)[int(np.argmin(np.abs(direction)))]
    first = start - (start @ direction) * direction
    first = first / np.linalg.norm(first)
    return first, np.cross(direction, first)


def _turned(solid: Solid, along: Along, whole: float) -> Guess | None:
    """Nearly all faces turn about one axis, perhaps but for a hexagon."""
    round_faces = [f for f in solid.faces if f.surface in (Surface.CYLINDER, Surface.CONE, Surface.TORUS)]
    if not round_faces:
        return None
    largest = max(round_faces, key=lambda f: f.area)
    axis = largest.direction
    turning = [f for f in solid.faces if _turns_about(f, axis, largest.point)]
    flats = [f for f in solid.faces if f.surface is Surface.PLANE and abs(f.direction @ axis) < ALIGNED]
    radii = {round(f.radius, 2) for f in turning if f.surface is Surface.CYLINDER and not f.is_hollow}
    area = sum(f.area for f in turning)
    low, high = solid.extent(axis)
    if area > 0.97 * whole and len(radii) == 1 and not any(f.is_hollow for f in turning):
        radius = radii.pop()
        if high - low > radius:
            return "bar-solid", f"is a solid round bar of {_number(2 * radius)} mm, not a tube"
        return "plate", f"is a disc of {_number(high - low)} mm. Draw it as DXF"
    if area + sum(f.area for f in flats) > 0.9 * whole and area > 0.4 * whole and (len(radii) > 1 or len(flats) == 6):
        return "turned", "looks like a turned part or a fastener (a screw, nut, bush or shaft), not a tube"
    return None


def _turns_about(face: Face, axis: Vector, point: Vector) -> bool:
    """Whether the face goes round the axis through the point, or lies square across it."""
    if face.surface is Surface.PLANE:
        return bool(abs(abs(face.direction @ axis) - 1.0) < ALIGNED)
    apart = face.point - point
    is_on_axis = bool(np.linalg.norm(apart - (apart @ axis) * axis) < FIT)
    if face.surface is Surface.SPHERE:
        return is_on_axis
    is_parallel = bool(np.linalg.norm(np.cross(face.direction, axis)) < ALIGNED)
    return face.surface is not Surface.FREE and is_on_axis and is_parallel


def _straight(solid: Solid, along: Along, section: NoSection) -> Guess | None:
    """A bar of even cross-section: open, solid, or hollow with other sides than four."""
    if along.share < 0.5 or not along.planes:
        return None
    largest = max(along.planes, key=lambda f: f.area)
    first, second = largest.direction, np.cross(along.axis, largest.direction)
    length, across, high = (b - a for a, b in (solid.extent(d) for d in (along.axis, first, second)))
    fill = solid.volume / (length * across * high)
    if fill < 0.7 and any(section.has_wall) and not all(section.has_wall):
        rule = "Angles, channels, I and T are read where their faces are parallel and nothing is welded on"
        return "profile-open", f"looks like {_open_profile(section.has_wall)}. {rule}"
    if fill > 0.95:
        sizes = " x ".join(_number(size) for size in sorted((across, high), reverse=True))
        if length > 2.5 * max(across, high):
            return "bar-solid", f"is a solid bar of {sizes} mm, not a tube"
        return "block", f"is a block of {sizes} x {_number(length)} mm, not a tube"
    return _other_section(along, min(across, high))


def _open_profile(has_wall: Sequence[bool]) -> str:
    """Which open profile has walls on these of its four sides."""
    count = sum(has_wall)
    if count == 3:
        return "a channel (an open profile), or a bent sheet"
    if count == 1:
        return "a T or a similar open profile"
    if has_wall[0] == has_wall[2]:
        return "an I, H or Z profile (an open profile), or a bent sheet"
    return "an angle (an open profile), or a bent sheet"


def _other_section(along: Along, width: Mm) -> Guess | None:
    """A hollow or solid bar whose sides are more than four, or half circles."""
    least = 0.01 * max(f.area for f in along.planes)
    directions = {_degrees(f.direction, along.axis) for f in along.planes if f.area > least}
    if len(directions) == 2 and any(abs(2.0 * f.radius - width) < FIT for f in along.cylinders):
        return "oval", "looks like a flat oval tube. Only square, rectangular, round and oval tube is read"
    if len(directions) > 8:
        sides = str(len(directions)) if len(directions) < 360 else "hundreds of"
        words = f"looks like a round tube or bar drawn with {sides} flat sides. Export it with true arcs"
        return "round-of-flats", words
    if len(directions) > 4:
        return "polygon", f"has {len(directions)} flat sides. Only square, rectangular, round and oval tube is read"
    return None


def _degrees(direction: Vector, axis: Vector) -> int:
    """The direction round the axis, in whole degrees from a fixed one."""
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    y = helper - (helper @ axis) * axis
    y = y / np.linalg.norm(y)
    return round(math.degrees(math.atan2(direction @ np.cross(axis, y), direction @ y))) % 360


def _number(value: Mm) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
