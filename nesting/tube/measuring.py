"""Turns a solid of Open CASCADE into plain numbers (`nesting.tube.solid`). Runs in the sandbox only.

Free-form surfaces that are really planes or cylinders, as some programs write them, become what they are.
"""

import math
from contextlib import suppress
from typing import Any

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepClass import BRepClass_FaceClassifier
from OCP.BRepGProp import BRepGProp
from OCP.BRepTools import BRepTools
from OCP.collections import (
    IndexedDataMap_TopoDS_Shape_List_TopoDS_Shape_TopTools_ShapeMapHasher as EdgeFaces,
)
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeIndex
from OCP.GCPnts import GCPnts_AbscissaPoint
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln, gp_Pnt, gp_Pnt2d, gp_Sphere, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.Standard import Standard_Failure
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum, TopAbs_State
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS

from nesting.errors import BadValue
from nesting.tube.solid import Conic, Edge, Face, Points, Solid, Surface, Vector
from nesting.tube.step_text import MOST_FACES
from nesting.units import LARGEST_COORDINATE, Mm

AS_GOOD_AS: Mm = 1e-3
"""A free-form surface this close to a plane or cylinder is taken for one; programs write them to about 1e-5 mm."""

CONIC_STEP = math.radians(5.0)
"""Between points on circles: chords of a 60 mm tube stay within 0.03 mm, enough to follow a contour round."""

FREE_CURVE_POINTS = 97
"""On any other curve. With their slopes they give the extent of a saddle in 60 mm tube to 1e-5 mm."""

SAMPLES = 6
"""Steps of the grid inside faces that may reach further than their edges."""

_SURFACES = {
    GeomAbs_SurfaceType.GeomAbs_Plane: Surface.PLANE,
    GeomAbs_SurfaceType.GeomAbs_Cylinder: Surface.CYLINDER,
    GeomAbs_SurfaceType.GeomAbs_Cone: Surface.CONE,
    GeomAbs_SurfaceType.GeomAbs_Sphere: Surface.SPHERE,
    GeomAbs_SurfaceType.GeomAbs_Torus: Surface.TORUS,
}


def measure(shape: Any) -> Solid:
    """The solid in plain numbers.

    Raises:
        BadValue: it has more than MOST_FACES faces or none, the kernel fails on it, or its numbers are none.
    """
    try:
        solid = _measured(shape)
    except (Standard_Failure, RuntimeError, ZeroDivisionError) as fault:
        raise BadValue(f"The geometry kernel failed on it ({type(fault).__name__}); the file is damaged.") from fault
    if not solid.edges:
        raise BadValue("It has no edges.")
    numbers = [solid.volume, *(face.area for face in solid.faces), *(edge.length for edge in solid.edges)]
    if not (np.isfinite(numbers).all() and (np.abs(solid.points()) < LARGEST_COORDINATE).all()):
        raise BadValue("It has measures that are no numbers, or lies further out than a kilometre.")
    return solid


def _measured(shape: Any) -> Solid:
    index = ShapeIndex()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_FACE, index)
    if index.Extent() > MOST_FACES:
        raise BadValue(f"It has {index.Extent()} faces; at most {MOST_FACES} are looked at.")
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties, 1e-7)
    volume = properties.Mass()
    # A solid that is inside out has a negative volume: then every normal is turned.
    faces = tuple(_face(TopoDS.Face(index.FindKey(i)), inside_out=volume < 0) for i in range(1, index.Extent() + 1))
    around = EdgeFaces()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_ShapeEnum.TopAbs_EDGE, TopAbs_ShapeEnum.TopAbs_FACE, around)
    edges = []
    for i in range(1, around.Extent() + 1):
        edge = TopoDS.Edge(around.FindKey(i))
        if not BRep_Tool.Degenerated_s(edge):
            edges.append(_edge(edge, list(around.FindFromIndex(i)), index))
    return Solid(faces, tuple(edges), abs(volume), BRepCheck_Analyzer(shape).IsValid())


def _vector(triple: Any) -> Vector:
    return np.array([triple.X(), triple.Y(), triple.Z()])


def _face(face: Any, *, inside_out: bool) -> Face:
    adaptor = BRepAdaptor_Surface(face)
    properties = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face, properties)
    area = abs(properties.Mass())
    u_first, u_last, v_first, v_last = BRepTools.UVBounds_s(face)
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1((u_first + u_last) / 2, (v_first + v_last) / 2, point, along_u, along_v)
    normal = np.cross(_vector(along_u), _vector(along_v))
    length = float(np.linalg.norm(normal))
    normal = normal / length if length > 0 else normal
    if (face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED) != inside_out:
        normal = -normal
    surface, form = _form(face, adaptor)
    if surface is Surface.PLANE:
        direction = _vector(form.Axis().Direction())
        direction = direction if direction @ normal > 0 else -direction
        return Face(surface, area, _vector(form.Location()), direction)
    samples = _samples(face, adaptor) if surface is not Surface.CYLINDER else None
    if surface is Surface.FREE:
        return Face(surface, area, _vector(point), normal, samples=samples)
    if surface is Surface.SPHERE:
        centre = _vector(form.Location())
        hollow = bool((_vector(point) - centre) @ normal < 0)
        return Face(surface, area, centre, normal, form.Radius(), is_hollow=hollow, samples=samples)
    centre, axis = _vector(form.Axis().Location()), _vector(form.Axis().Direction())
    out = _vector(point) - centre
    out = out - (out @ axis) * axis
    turn = abs(u_last - u_first) / (2.0 * math.pi)
    rest = {"samples": samples, "turn": turn}
    if surface is Surface.CONE:
        hollow, slope = bool(out @ normal < 0), math.tan(form.SemiAngle())
        return Face(surface, area, centre, axis, form.RefRadius(), slope=slope, is_hollow=hollow, **rest)
    if surface is Surface.TORUS:
        ring = centre + form.MajorRadius() * out / max(float(np.linalg.norm(out)), 1e-300)
        hollow = bool((_vector(point) - ring) @ normal < 0)
        return Face(surface, area, centre, axis, form.MajorRadius(), form.MinorRadius(), is_hollow=hollow, **rest)
    return Face(surface, area, centre, axis, form.Radius(), is_hollow=bool(out @ normal < 0), **rest)


def _form(face: Any, adaptor: Any) -> tuple[Surface, Any]:
    """What the surface is, and the kernel's numbers of it."""
    surface = _SURFACES.get(adaptor.GetType())
    if surface is not None:
        return surface, getattr(adaptor, surface.value.capitalize())()
    # Recognition may raise on valid files; then the surface stays free-form.
    with suppress(Standard_Failure, RuntimeError):
        recognition = ShapeAnalysis_CanonicalRecognition(face)
        plane, cylinder, cone, sphere = gp_Pln(), gp_Cylinder(), gp_Cone(), gp_Sphere()
        if recognition.IsPlane(AS_GOOD_AS, plane):
            return Surface.PLANE, plane
        if recognition.IsCylinder(AS_GOOD_AS, cylinder):
            return Surface.CYLINDER, cylinder
        if recognition.IsSphere(AS_GOOD_AS, sphere):
            return Surface.SPHERE, sphere
        if recognition.IsCone(AS_GOOD_AS, cone):
            return Surface.CONE, cone
    return Surface.FREE, None


def _samples(face: Any, adaptor: Any) -> Points | None:
    """Points inside the face, on a grid over its parameters."""
    u_first, u_last, v_first, v_last = BRepTools.UVBounds_s(face)
    classifier = BRepClass_FaceClassifier()
    found = []
    for i in range(1, SAMPLES):
        for k in range(1, SAMPLES):
            u, v = u_first + (u_last - u_first) * i / SAMPLES, v_first + (v_last - v_first) * k / SAMPLES
            classifier.Perform(face, gp_Pnt2d(u, v), 1e-6)
            if classifier.State() == TopAbs_State.TopAbs_IN:
                found.append(_vector(adaptor.Value(u, v)))
    return np.array(found) if found else None


def _edge(edge: Any, faces: list[Any], index: Any) -> Edge:
    adaptor = BRepAdaptor_Curve(edge)
    first, last = adaptor.FirstParameter(), adaptor.LastParameter()
    numbers = tuple(dict.fromkeys(index.FindIndex(face) - 1 for face in faces))
    is_seam = len(numbers) == 1 and BRep_Tool.IsClosed_s(edge, TopoDS.Face(faces[0]))
    length = GCPnts_AbscissaPoint.Length_s(adaptor, 1e-7)
    kind = adaptor.GetType()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        return Edge(np.array([_vector(adaptor.Value(t)) for t in (first, last)]), length, numbers, is_seam)
    if kind in (GeomAbs_CurveType.GeomAbs_Circle, GeomAbs_CurveType.GeomAbs_Ellipse):
        conic = _conic(adaptor, kind, first, last)
        t = np.linspace(first, last, max(3, math.ceil((last - first) / CONIC_STEP) + 1))[:, None]
        points = conic.centre + np.cos(t) * conic.major + np.sin(t) * conic.minor
        return Edge(points, length, numbers, is_seam, conic)
    parameters = np.linspace(first, last, FREE_CURVE_POINTS)
    step, rows, slopes = (last - first) / (FREE_CURVE_POINTS - 1), [], []
    for t in parameters:
        point, slope = gp_Pnt(), gp_Vec()
        adaptor.D1(float(t), point, slope)
        rows.append(_vector(point))
        slopes.append(_vector(slope) * step)
    return Edge(np.array(rows), length, numbers, is_seam, None, np.array(slopes))


def _conic(adaptor: Any, kind: Any, first: float, last: float) -> Conic:
    if kind == GeomAbs_CurveType.GeomAbs_Circle:
        form = adaptor.Circle()
        major = minor = form.Radius()
    else:
        form = adaptor.Ellipse()
        major, minor = form.MajorRadius(), form.MinorRadius()
    frame = form.Position()
    return Conic(
        _vector(frame.Location()),
        major * _vector(frame.XDirection()),
        minor * _vector(frame.YDirection()),
        first,
        last,
    )
