"""Says what kind of cut each end of a recognised tube is, with the angles and measures that a saw or a mate needs."""

import math
from collections.abc import Sequence

import numpy as np

from nesting.model.tube_cuts import EndCut, EndKind
from nesting.tube.development import end_path
from nesting.tube.found_section import FIT, ROUND_OFF
from nesting.tube.section_finder import ALIGNED
from nesting.tube.solid import Face, Points, Solid, Surface
from nesting.tube.tube_shape import End, TubeShape
from nesting.tube.unroll import rolled
from nesting.units import Deg

LEAST_ACROSS = 0.05
"""Cosine of the angle from square beyond which a plane is a wall of a notch and no end: 87 degrees."""

MOSTLY = 0.5
"""Share of the way round that must lie on a plane for the end to be that plane with a notch."""


def end_cuts(solid: Solid, shape: TubeShape) -> tuple[EndCut, EndCut]:
    """The cut at the start and the one at the end."""
    return _end_cut(solid, shape, shape.start, -1.0), _end_cut(solid, shape, shape.end, 1.0)


def _end_cut(solid: Solid, shape: TubeShape, end: End, out: float) -> EndCut:
    """`out` is 1 where the tube ends towards +x and -1 where it ends towards -x."""
    path = end_path(solid, shape, end.outer)
    if end.is_square:
        return EndCut(EndKind.SQUARE, path, bevel=end.lean)
    points = rolled(shape.section.section, np.column_stack([end.outer.x, end.outer.s]))
    mitre = _plane(points, out)
    if mitre is not None:
        return EndCut(EndKind.MITRE, path, *mitre, bevel=end.lean)
    cope = _cylinder([solid.faces[i] for i in end.faces], shape, out)
    if cope is not None:
        angle, towards, diameter, offset = cope
        return EndCut(EndKind.COPE, path, angle, towards, diameter, offset, end.lean)
    plane = _notched([solid.faces[i] for i in end.faces], shape, end, points, out)
    if plane is not None:
        return EndCut(EndKind.NOTCHED, path, *plane, bevel=end.lean)
    return EndCut(EndKind.FREE, path, bevel=end.lean)


def _notched(faces: Sequence[Face], shape: TubeShape, end: End, points: Points, out: float) -> tuple[Deg, Deg] | None:
    """Angle from square and side of the long point of the plane that nothing of the end reaches beyond, and that at
    least half of the way round lies on.
    """
    along = np.diff(end.outer.s, append=end.outer.s[-1])
    for face in faces:
        x, y, z = shape.section.frame.axes @ face.direction
        if face.surface is not Surface.PLANE or out * x < LEAST_ACROSS:
            continue
        origin = shape.section.frame.local(face.point[None])[0]
        beyond = (points - origin) @ np.array([x, y, z])
        on_it = np.abs(beyond) < FIT
        there = float(np.abs(along[on_it & np.roll(on_it, -1)]).sum())
        if float(beyond.max()) < FIT and there > MOSTLY * shape.section.outer.girth:
            if math.hypot(y, z) < ALIGNED:
                return 0.0, 0.0
            return _degrees(math.atan2(math.hypot(y, z), out * x)), _direction(-y, -z)
    return None


def _plane(points: Points, out: float) -> tuple[Deg, Deg] | None:
    """Angle from square and side of the long point, where one plane carries all points."""
    matrix = np.column_stack([points[:, 1:], np.ones(len(points))])
    slopes, *_ = np.linalg.lstsq(matrix, points[:, 0], rcond=None)
    if float(np.abs(matrix @ slopes - points[:, 0]).max()) > FIT:
        return None
    y, z = out * slopes[:2]
    return _degrees(math.atan(math.hypot(y, z))), _direction(y, z)


def _cylinder(faces: Sequence[Face], shape: TubeShape, out: float) -> tuple[Deg, Deg, float, float] | None:
    """Angle between the axes, direction across, diameter and offset of the tube that the end sits on.

    Plane faces square to this tube may be there besides, where the mate stands off to the side; but what is narrower
    than this tube is a notch.
    """
    round_faces = [face for face in faces if face.surface is Surface.CYLINDER and face.is_hollow]
    axes = shape.section.frame.axes
    rest = [face for face in faces if face not in round_faces]
    if not round_faces or any(f.surface is not Surface.PLANE or abs(axes[0] @ f.direction) < 1 - ALIGNED for f in rest):
        return None
    first, radius = round_faces[0], round_faces[0].radius
    if rest and 2.0 * radius < shape.section.section.width - FIT:
        return None
    for face in round_faces[1:]:
        apart = np.cross(face.point - first.point, first.direction)
        is_one = np.linalg.norm(np.cross(face.direction, first.direction)) < ALIGNED and np.linalg.norm(apart) < FIT
        if not is_one or abs(face.radius - radius) > FIT:
            return None
    along, y, z = axes @ first.direction
    if math.hypot(y, z) < ALIGNED:
        return None  # a bore along the tube is no mate
    angle = _degrees(math.atan2(math.hypot(y, z), out * along))
    if angle > 90.0:
        angle, y, z = round(180.0 - angle, ROUND_OFF), -y, -z
    towards = _direction(y, z)
    if angle == 90.0:
        towards %= 180.0
    _, at_y, at_z = shape.section.frame.local(first.point[None])[0]
    offset = at_z * math.cos(math.radians(towards)) - at_y * math.sin(math.radians(towards))
    return angle, towards, round(2.0 * radius, ROUND_OFF), round(offset, ROUND_OFF)


def _direction(y: float, z: float) -> Deg:
    return _degrees(math.atan2(z, y)) % 360.0


def _degrees(angle: float) -> Deg:
    return round(math.degrees(angle), ROUND_OFF)
