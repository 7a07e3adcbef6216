"""Makes the solid of a straight piece of hollow section from a plain description, with exact surfaces.

Part of the generator (`step_writer`), not of the route. A tube lies along x with its start at 0; its height runs along
z and its width along y. Directions round the tube are angles from +y towards +z, so 90 is the top. `placement` then
turns and shifts the part. Open CASCADE is needed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeHalfSpace, BRepPrimAPI_MakePrism
from OCP.collections import List_TopoDS_Shape
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from nesting.errors import BadValue
from nesting.model.section import Section, SectionShape
from nesting.units import SAME_POINT, Deg, Mm

type Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Mitre:
    """A plane end, leaning `angle` from square, with its long point at the side `towards`."""

    angle: Deg
    towards: Deg = 90.0


@dataclass(frozen=True)
class Cope:
    """An end that sits on a round tube of that diameter, whose axis crosses this tube's in the direction `along`."""

    diameter: Mm
    along: Deg = 0.0


@dataclass(frozen=True)
class Hole:
    """A round hole, drilled from the side `towards` at `x`, its axis `offset` beside the tube's."""

    x: Mm
    diameter: Mm
    towards: Deg = 90.0
    offset: Mm = 0.0
    both_walls: bool = False


@dataclass(frozen=True)
class Slot:
    """A slot with round ends, `length` over all along the tube, or round it where `across`."""

    x: Mm
    length: Mm
    width: Mm
    towards: Deg = 90.0
    offset: Mm = 0.0
    both_walls: bool = False
    across: bool = False


@dataclass(frozen=True)
class Window:
    """A rectangle with sharp corners, `length` along the tube and `width` round it; over an end it is a notch."""

    x: Mm
    length: Mm
    width: Mm
    towards: Deg = 90.0
    offset: Mm = 0.0
    both_walls: bool = False


@dataclass(frozen=True)
class Placement:
    """Turned by `turn` about an axis through the origin, then shifted."""

    axis: Vector = (1.0, 0.0, 0.0)
    turn: Deg = 0.0
    shift: Vector = (0.0, 0.0, 0.0)


type End = Mitre | Cope | None
type Opening = Hole | Slot | Window


@dataclass(frozen=True)
class Tube:
    """A straight piece of tube; `length` is over all, ends included. An end of None is square."""

    section: Section
    length: Mm
    name: str = "tube"
    start: End = None
    end: End = None
    openings: tuple[Opening, ...] = ()
    placement: Placement = Placement()


def tube_solid(tube: Tube) -> Any:
    """The tube as a solid of Open CASCADE.

    Raises:
        BadValue: the ends or openings leave no tube, or more than one piece.
    """
    section = tube.section
    face = BRepBuilderAPI_MakeFace(_outline(section.height, section.width, section.corner_radius, section.shape))
    inner = (section.height - 2 * section.wall, section.width - 2 * section.wall, section.inner_radius, section.shape)
    face.Add(TopoDS.Wire(_outline(*inner).Reversed()))
    solid = BRepPrimAPI_MakePrism(face.Face(), gp_Vec(tube.length, 0.0, 0.0)).Shape()
    if tube.openings:
        solid = _cut(solid, [_opening_tool(section, opening) for opening in tube.openings])
    for end, at_start in ((tube.start, True), (tube.end, False)):
        if isinstance(end, Mitre):
            solid = _cut(solid, [_mitre_tool(section, end, tube.length, at_start=at_start)])
        elif isinstance(end, Cope):
            solid = _cut(solid, [_cope_tool(section, end, tube.length, at_start=at_start)])
    pieces = solids_of(solid)
    if len(pieces) != 1:
        raise BadValue(f"Tube {tube.name}: its ends and openings leave {len(pieces)} pieces.")
    return BRepBuilderAPI_Transform(pieces[0], _movement(tube.placement), True).Shape()


def solids_of(shape: Any) -> list[Any]:
    explorer, found = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _outline(height: Mm, width: Mm, radius: Mm, shape: SectionShape) -> Any:
    """The closed wire round a section in the plane x = 0, anticlockwise seen from +x."""
    towards_x = gp_Dir(1.0, 0.0, 0.0)
    wire = BRepBuilderAPI_MakeWire()
    if shape is SectionShape.ROUND:
        wire.Add(BRepBuilderAPI_MakeEdge(gp_Circ(gp_Ax2(gp_Pnt(0, 0, 0), towards_x), height / 2)).Edge())
        return wire.Wire()
    y, z = width / 2 - radius, height / 2 - radius
    for quarter, (cy, cz) in enumerate(((y, z), (-y, z), (-y, -z), (y, -z))):
        nexts = ((-y, z), (-y, -z), (y, -z), (y, z))[quarter]
        start, end = (_on_circle(cy, cz, radius, 90.0 * (quarter + k)) for k in (0, 1))
        if radius > 0:
            circle = gp_Circ(gp_Ax2(gp_Pnt(0, cy, cz), towards_x), radius)
            wire.Add(BRepBuilderAPI_MakeEdge(circle, start, end).Edge())
        beyond = _on_circle(*nexts, radius, 90.0 * (quarter + 1))
        if end.Distance(beyond) > SAME_POINT:
            wire.Add(BRepBuilderAPI_MakeEdge(end, beyond).Edge())
    return wire.Wire()


def _on_circle(y: Mm, z: Mm, radius: Mm, angle: Deg) -> Any:
    return gp_Pnt(0.0, y + radius * _cos(angle), z + radius * _sin(angle))


def _cos(angle: Deg) -> float:
    """Exact at quarter turns, so that faces that should be parallel are."""
    return (1.0, 0.0, -1.0, 0.0)[int(angle // 90) % 4] if angle % 90 == 0 else math.cos(math.radians(angle))


def _sin(angle: Deg) -> float:
    return _cos(angle - 90.0)


def _reach(section: Section, towards: Deg) -> Mm:
    """How far the section reaches from its middle in a direction."""
    if section.shape is SectionShape.ROUND:
        return section.height / 2
    radius = section.corner_radius
    return (
        abs(_cos(towards)) * (section.width / 2 - radius) + abs(_sin(towards)) * (section.height / 2 - radius) + radius
    )


def _mitre_tool(section: Section, mitre: Mitre, length: Mm, *, at_start: bool) -> Any:
    """Everything beyond the plane through the long point."""
    slope, reach = math.tan(math.radians(mitre.angle)), _reach(section, mitre.towards)
    uy, uz = _cos(mitre.towards), _sin(mitre.towards)
    out = -1.0 if at_start else 1.0
    point = gp_Pnt(0.0 if at_start else length, uy * reach, uz * reach)
    normal = gp_Dir(out, -slope * uy, -slope * uz)
    face = BRepBuilderAPI_MakeFace(gp_Pln(point, normal)).Face()
    return BRepPrimAPI_MakeHalfSpace(face, point.Translated(gp_Vec(normal))).Solid()


def _cope_tool(section: Section, cope: Cope, length: Mm, *, at_start: bool) -> Any:
    """The mating tube, as far back as its sides let the tips of this one stand at the stated length."""
    radius, half = cope.diameter / 2, _reach(section, cope.along + 90.0)
    back = math.sqrt(max(0.0, radius**2 - half**2))
    x = -back if at_start else length + back
    far = section.height + section.width
    uy, uz = _cos(cope.along), _sin(cope.along)
    foot = gp_Ax2(gp_Pnt(x, -far * uy, -far * uz), gp_Dir(0.0, uy, uz))
    return BRepPrimAPI_MakeCylinder(foot, radius, 2 * far).Shape()


def _opening_tool(section: Section, opening: Opening) -> Any:
    """The prism that an opening takes away, from the tube's middle (or beyond its far side) outwards."""
    far = section.height + section.width
    uy, uz = _cos(opening.towards), _sin(opening.towards)
    back = far if opening.both_walls else 0.0
    # Across the tube, seen from outside with x to the right, `offset` counts upwards.
    middle = gp_Pnt(opening.x, -back * uy - opening.offset * uz, -back * uz + opening.offset * uy)
    frame = gp_Ax2(middle, gp_Dir(0.0, uy, uz), gp_Dir(1.0, 0.0, 0.0))
    if isinstance(opening, Hole):
        return BRepPrimAPI_MakeCylinder(frame, opening.diameter / 2, far + back).Shape()
    if isinstance(opening, Slot) and opening.across:
        frame = gp_Ax2(middle, gp_Dir(0.0, uy, uz), gp_Dir(0.0, -uz, uy))
    face = BRepBuilderAPI_MakeFace(_flat_outline(opening, frame)).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(0.0, uy, uz).Multiplied(far + back)).Shape()


def _flat_outline(opening: Slot | Window, frame: Any) -> Any:
    """The wire of a slot or window in the plane of `frame`, its length along the frame's x."""
    along, up = gp_Vec(frame.XDirection()), gp_Vec(frame.YDirection())

    def at(x: Mm, y: Mm) -> Any:
        return frame.Location().Translated(along.Multiplied(x)).Translated(up.Multiplied(y))

    wire, half, high = BRepBuilderAPI_MakeWire(), opening.length / 2, opening.width / 2
    if isinstance(opening, Window):
        corners = [at(-half, -high), at(half, -high), at(half, high), at(-half, high)]
        for corner, following in zip(corners, [*corners[1:], corners[0]], strict=True):
            wire.Add(BRepBuilderAPI_MakeEdge(corner, following).Edge())
        return wire.Wire()
    flat = half - high
    for side in (1.0, -1.0):
        circle = gp_Circ(gp_Ax2(at(side * flat, 0.0), frame.Direction(), frame.XDirection()), high)
        start, end = at(side * flat, -side * high), at(side * flat, side * high)
        wire.Add(BRepBuilderAPI_MakeEdge(circle, start, end).Edge())
        wire.Add(BRepBuilderAPI_MakeEdge(end, at(-side * flat, side * high)).Edge())
    return wire.Wire()


def _cut(solid: Any, tools: Sequence[Any]) -> Any:
    """The solid without the tools, all at once: one after the other takes eight times as long at 80 openings."""
    solids, all_tools = List_TopoDS_Shape(), List_TopoDS_Shape()
    solids.Append(solid)
    for tool in tools:
        all_tools.Append(tool)
    cut = BRepAlgoAPI_Cut()
    cut.SetArguments(solids)
    cut.SetTools(all_tools)
    cut.Build()
    return cut.Shape()


def _movement(placement: Placement) -> Any:
    turn, shift = gp_Trsf(), gp_Trsf()
    axis = gp_Ax1(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(*placement.axis))
    turn.SetRotation(axis, math.radians(placement.turn))
    shift.SetTranslation(gp_Vec(*placement.shift))
    return shift.Multiplied(turn)
