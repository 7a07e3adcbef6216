"""Makes the solid of a straight piece of tube, profile or bar from a plain description, with exact surfaces.

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
from nesting.geometry.arcs import arc_circle
from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.model.section import Section
from nesting.units import SAME_POINT, Deg, Mm

type Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Mitre:
    """A plane end, leaning `angle` from square, with its long point at the side `towards`.

    Raises:
        BadValue: an angle below 0, which would cut nothing, or of 90 and more.
    """

    angle: Deg
    towards: Deg = 90.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.angle < 90.0:
            raise BadValue(f"Mitre: the angle must be 0 up to 90 degrees, not {self.angle}.")


@dataclass(frozen=True)
class Cope:
    """An end that sits on a round tube of that diameter, whose axis crosses this tube's in the direction `along`.

    The axes pass each other `offset` apart and cross at `angle`.
    """

    diameter: Mm
    along: Deg = 0.0
    offset: Mm = 0.0
    angle: Deg = 90.0


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
    outer, *inner = section.outlines
    face = BRepBuilderAPI_MakeFace(_wire(outer))
    for ring in inner:
        face.Add(TopoDS.Wire(_wire(ring).Reversed()))
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


def _wire(ring: Contour) -> Any:
    """The closed wire round a ring in the plane x = 0, anticlockwise seen from +x."""
    if len(ring.vertices) == 2:  # a circle, in one edge
        circle = gp_Circ(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1.0, 0.0, 0.0)), ring.vertices[0][0])
        return BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(circle).Edge()).Wire()
    corners = [v for i, v in enumerate(ring.vertices) if not _is_on_the_way(ring, i)]
    wire = BRepBuilderAPI_MakeWire()
    for (y, z, bulge), (next_y, next_z, _) in zip(corners, [*corners[1:], corners[0]], strict=True):
        start, end = gp_Pnt(0, y, z), gp_Pnt(0, next_y, next_z)
        if bulge:
            (cy, cz), radius = arc_circle((y, z), (next_y, next_z), bulge)
            axis = gp_Ax2(gp_Pnt(0, cy, cz), gp_Dir(1.0 if bulge > 0 else -1.0, 0.0, 0.0))
            wire.Add(BRepBuilderAPI_MakeEdge(gp_Circ(axis, radius), start, end).Edge())
        else:
            wire.Add(BRepBuilderAPI_MakeEdge(start, end).Edge())
    return wire.Wire()


def _is_on_the_way(ring: Contour, i: int) -> bool:
    """Whether the ring runs straight through a vertex, which then parts no faces."""
    (x0, y0, before), (x, y, bulge), (x1, y1, _) = (ring.vertices[k % len(ring.vertices)] for k in (i - 1, i, i + 1))
    return not before and not bulge and abs((x - x0) * (y1 - y) - (x1 - x) * (y - y0)) < SAME_POINT**2


def _cos(angle: Deg) -> float:
    """Exact at quarter turns, so that faces that should be parallel are."""
    return (1.0, 0.0, -1.0, 0.0)[int(angle // 90) % 4] if angle % 90 == 0 else math.cos(math.radians(angle))


def _sin(angle: Deg) -> float:
    return _cos(angle - 90.0)


def _reach(section: Section, towards: Deg) -> Mm:
    """How far the section reaches from its middle in a direction."""
    return placed(section.outlines[0], 0.0, 0.0, -towards).bounds.right


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
    """The mating tube, as far back as the tips of this one stand at the stated length."""
    radius, far = cope.diameter / 2, 2.0 * (section.height + section.width + cope.diameter)
    out = -1.0 if at_start else 1.0
    uy, uz = _cos(cope.along), _sin(cope.along)
    lean = 1.0 / math.tan(math.radians(cope.angle)) if cope.angle != 90.0 else 0.0
    back = _saddle_tips(section, cope, lean)
    x = -back if at_start else length + back
    # The axis passes `offset` beside this tube's middle, and leans outwards where it runs in the direction `along`.
    middle = gp_Pnt(x, -cope.offset * uz, cope.offset * uy)
    direction = gp_Dir(out * lean, uy, uz)
    foot = gp_Ax2(middle.Translated(gp_Vec(direction).Multiplied(-far)), direction)
    return BRepPrimAPI_MakeCylinder(foot, radius, 2 * far).Shape()


def _saddle_tips(section: Section, cope: Cope, lean: float) -> Mm:
    """How far the mating axis crosses beyond the tips that the saddle leaves, or before them where it is negative.

    At (a along the crossing, b beside it) the saddle stands lean·a - sqrt(R² - (b - offset)²)·sqrt(1 + lean²) from the
    crossing; where the mating tube does not reach, nothing is cut.
    """
    turned = placed(section.outlines[0], 0.0, 0.0, -cope.along)
    points = turned.flattened(1e-6) if lean else turned.flattened(0.01)
    sides = [turned.bounds.bottom, turned.bounds.top] if not lean else []
    under = [(cope.diameter / 2) ** 2 - (b - cope.offset) ** 2 for b in (*(p[1] for p in points), *sides)]
    leans = [lean * a for a, _ in points] + [0.0] * len(sides)
    stands = [at - math.sqrt(max(0.0, u) * (1.0 + lean**2)) for at, u in zip(leans, under, strict=True)]
    return -max(stands)


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
