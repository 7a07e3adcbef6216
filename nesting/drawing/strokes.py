"""What one DXF entity draws, as strokes: straight or bulged segments, sweeps of an ellipse, and splines.

Strokes keep the entity's own numbers. Flat entities (circle, arc, polyline) are given in the plane they were drawn in;
`plane` is the matrix from there to the drawing, None where both are the same. An entity's strokes follow each other.
"""

import math
from collections.abc import Callable
from typing import NamedTuple, cast

import numpy as np
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline
from ezdxf.math import OCS, Matrix44

from nesting.drawing.nurbs import Floats
from nesting.geometry.arcs import arc_angle, arc_circle
from nesting.units import JOIN

WHOLE_TURN = 1e-5
"""Radians by which a whole turn may be missed, where that is less than what is joined anyway."""

NEEDED: dict[str, tuple[str, ...]] = {
    "LINE": ("start", "end"),
    "CIRCLE": ("center", "radius"),
    "ARC": ("center", "radius", "start_angle", "end_angle"),
    "ELLIPSE": ("center", "major_axis", "ratio"),
}
"""What an entity is nothing without (DXF reference: group codes that are not marked as optional)."""

type Place = tuple[float, float, float]


class Segment(NamedTuple):
    """A line, or with a bulge an arc in the plane's x and y."""

    start: Place
    end: Place
    bulge: float = 0.0


class Sweep(NamedTuple):
    """centre + cos t · u + sin t · v, from t = `first` through `sweep` radians, which may be negative."""

    centre: Place
    u: Place
    v: Place
    first: float
    sweep: float


class Bend(NamedTuple):
    """A spline; `controls` (n, 3)."""

    degree: int
    controls: Floats
    knots: Floats
    weights: Floats


type Stroke = Segment | Sweep | Bend


class Drawn(NamedTuple):
    """One entity's strokes in order; `closed` where the entity says that its end joins its beginning."""

    strokes: list[Stroke]
    closed: bool
    plane: Matrix44 | None


def strokes_of(entity: DXFEntity) -> Drawn | None:
    """What a line, arc, circle, ellipse, spline or polyline draws; None for every other entity.

    Raises:
        ValueError: the entity's numbers do not make a shape.
    """
    make = MAKERS.get(entity.dxftype())
    # The library fills in what is missing: a circle without a radius would be one of radius 1.
    missing = [name for name in NEEDED.get(entity.dxftype(), ()) if not entity.dxf.hasattr(name)]
    if missing:
        raise ValueError(f"{entity.dxftype()} without {', '.join(missing)}")
    return make(entity) if make else None


def sweep_of_segment(segment: Segment) -> Sweep:
    """A bulged segment as a sweep of its circle."""
    (x0, y0, z), (x1, y1, _), bulge = segment
    (cx, cy), radius = arc_circle((x0, y0), (x1, y1), bulge)
    first = math.atan2(y0 - cy, x0 - cx)
    return Sweep((cx, cy, z), (radius, 0.0, 0.0), (0.0, radius, 0.0), first, arc_angle(bulge))


def _plane(entity: DXFGraphic) -> Matrix44 | None:
    """The matrix from the entity's own plane to the drawing, given by its extrusion vector."""
    if not entity.dxf.hasattr("extrusion") or not entity.dxf.extrusion:
        return None
    ocs = OCS(entity.dxf.extrusion)
    return ocs.matrix if ocs.transform else None


def _line(entity: DXFEntity) -> Drawn:
    dxf = cast(Line, entity).dxf
    return Drawn([Segment(dxf.start.xyz, dxf.end.xyz)], False, None)


def _circle(entity: DXFEntity) -> Drawn:
    circle = cast(Circle, entity)
    radius = abs(circle.dxf.radius)
    sweep = Sweep(circle.dxf.center.xyz, (radius, 0.0, 0.0), (0.0, radius, 0.0), 0.0, 2.0 * math.pi)
    return Drawn([sweep], True, _plane(circle))


def _arc(entity: DXFEntity) -> Drawn:
    arc = cast(Arc, entity)
    radius = abs(arc.dxf.radius)
    first = math.radians(arc.dxf.start_angle)
    sweep = _sweep(math.radians(arc.dxf.end_angle) - first, radius)
    stroke = Sweep(arc.dxf.center.xyz, (radius, 0.0, 0.0), (0.0, radius, 0.0), first, sweep)
    return Drawn([stroke], sweep == 2.0 * math.pi, _plane(arc))


def _sweep(angle: float, radius: float) -> float:
    """The angle as one from above 0 to a whole turn. Equal ends mean the whole turn, as 0 to 360 degrees does; written
    with six decimals 360 degrees fall short of it or beyond it.
    """
    sweep = angle % (2.0 * math.pi)
    missing = min(sweep, 2.0 * math.pi - sweep)
    return 2.0 * math.pi if missing < WHOLE_TURN and missing * radius < JOIN else sweep


def _ellipse(entity: DXFEntity) -> Drawn:
    ellipse = cast(Ellipse, entity)
    dxf = ellipse.dxf
    sweep = _sweep(dxf.end_param - dxf.start_param, dxf.major_axis.magnitude)
    stroke = Sweep(dxf.center.xyz, dxf.major_axis.xyz, ellipse.minor_axis.xyz, dxf.start_param, sweep)
    return Drawn([stroke], sweep == 2.0 * math.pi, None)


def _spline(entity: DXFEntity) -> Drawn:
    tool = cast(Spline, entity).construction_tool()
    controls = np.array([point.xyz for point in tool.control_points])
    weights = np.array(tool.weights()) if tool.is_rational else np.ones(len(controls))
    return Drawn([Bend(tool.degree, controls, np.array(tool.knots()), weights)], False, None)


def _lwpolyline(entity: DXFEntity) -> Drawn:
    polyline = cast(LWPolyline, entity)
    height = float(polyline.dxf.get("elevation", 0.0))
    rows = polyline.get_points("xyb")
    points = [(float(row[0]), float(row[1]), height) for row in rows]
    bulges = [float(row[2]) for row in rows]
    return Drawn(_segments(points, bulges, closed=polyline.closed), bool(polyline.closed), _plane(polyline))


def _polyline(entity: DXFEntity) -> Drawn | None:
    polyline = cast(Polyline, entity)
    if polyline.is_polygon_mesh or polyline.is_poly_face_mesh:
        return None
    vertices = polyline.vertices
    if polyline.dxf.flags & polyline.SPLINE_FIT_VERTICES_ADDED:
        # The frame from which the curve was made is stored too; only the curve is drawn.
        vertices = [v for v in vertices if not v.dxf.flags & v.SPLINE_FRAME_CONTROL_POINT]
    closed = polyline.is_closed
    if polyline.is_3d_polyline:
        points = [v.dxf.location.xyz for v in vertices]
        return Drawn(_segments(points, [0.0] * len(points), closed=closed), closed, None)
    height = polyline.dxf.elevation.z if polyline.dxf.hasattr("elevation") else 0.0
    points = [(v.dxf.location.x, v.dxf.location.y, height or v.dxf.location.z) for v in vertices]
    bulges = [float(v.dxf.get("bulge", 0.0)) for v in vertices]
    return Drawn(_segments(points, bulges, closed=closed), closed, _plane(polyline))


def _segments(points: list[Place], bulges: list[float], *, closed: bool) -> list[Stroke]:
    follow = [*points[1:], *points[:1]] if closed else points[1:]
    return [Segment(a, b, bulge) for a, b, bulge in zip(points, follow, bulges, strict=False)]


MAKERS: dict[str, Callable[[DXFEntity], Drawn | None]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
"""The entities that draw lines to cut or mark."""
