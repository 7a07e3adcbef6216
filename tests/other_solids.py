"""Solids that are no plain hollow section, or nearly none, made with Open CASCADE for the tests of the STEP reader."""

import math

from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_Copy,
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_NurbsConvert,
    BRepBuilderAPI_Transform,
)
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeRevol,
    BRepPrimAPI_MakeSphere,
    BRepPrimAPI_MakeTorus,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Elips, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle, ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shell, TopoDS_Solid

from nesting.model.section import Section
from nesting.tube.tube_solids import Hole, Tube, Window, solids_of, tube_solid

SQUARE = Section.box(40, 40, 3, 6)


def along_x(x=0.0, y=0.0, z=0.0):
    return gp_Ax2(gp_Pnt(x, y, z), gp_Dir(1, 0, 0))


def box(x, y, z, at=(0, 0, 0)):
    return BRepPrimAPI_MakeBox(gp_Pnt(*at), x, y, z).Shape()


def cylinder(diameter, length, x=0.0, y=0.0, z=0.0):
    return BRepPrimAPI_MakeCylinder(along_x(x, y, z), diameter / 2, length).Shape()


def cut(solid, *tools):
    for tool in tools:
        solid = BRepAlgoAPI_Cut(solid, tool).Shape()
    return solids_of(solid)[0]


def fused(*solids):
    whole = solids[0]
    for other in solids[1:]:
        whole = BRepAlgoAPI_Fuse(whole, other).Shape()
    merge = ShapeUpgrade_UnifySameDomain(whole)
    merge.Build()
    return solids_of(merge.Shape())[0]


def prism(points, length):
    """A polygon of (y, z) drawn out along x."""
    polygon = BRepBuilderAPI_MakePolygon()
    for y, z in points:
        polygon.Add(gp_Pnt(0, y, z))
    polygon.Close()
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(polygon.Wire()).Face(), gp_Vec(length, 0, 0)).Shape()


def edges_of(solid):
    explorer, found = TopExp_Explorer(solid, TopAbs_ShapeEnum.TopAbs_EDGE), []
    while explorer.More():
        found.append(TopoDS.Edge(explorer.Current()))
        explorer.Next()
    return found


def rounded_along_x(solid, radius, near):
    """The solid with those edges along x rounded that pass through (y, z) points of `near`."""
    fillet = BRepFilletAPI_MakeFillet(solid)
    for y, z in near:
        for edge in edges_of(solid):
            first, last = ends_of(edge)
            if abs(first.X() - last.X()) > 1 and math.dist((first.Y(), first.Z()), (y, z)) < 1e-6:
                fillet.Add(radius, edge)
                break
    return fillet.Shape()


def ends_of(edge):
    from OCP.BRep import BRep_Tool
    from OCP.TopExp import TopExp as Topology

    return BRep_Tool.Pnt_s(Topology.FirstVertex_s(edge)), BRep_Tool.Pnt_s(Topology.LastVertex_s(edge))


def plate():
    return cut(box(200, 120, 6), BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(50, 50, -1), gp_Dir(0, 0, 1)), 8, 20).Shape())


def thin_ring_plate():
    return cut(cylinder(120, 4), cylinder(100, 20, -5))


def block():
    return box(80, 60, 50)


def solid_square_bar():
    return box(500, 30, 30)


def solid_round_bar():
    return cylinder(20, 300)


def ball():
    return BRepPrimAPI_MakeSphere(25).Shape()


def angle():
    return prism([(0, 0), (50, 0), (50, 5), (5, 5), (5, 50), (0, 50)], 600)


def rolled_angle():
    """With its root and toes rounded, as it is rolled."""
    return rounded_along_x(rounded_along_x(angle(), 7, [(5, 5)]), 3.5, [(50, 5), (5, 50)])


def bent_sheet_angle():
    return rounded_along_x(rounded_along_x(angle(), 3, [(5, 5)]), 8, [(0, 0)])


def channel():
    return prism([(0, 0), (60, 0), (60, 6), (6, 6), (6, 94), (60, 94), (60, 100), (0, 100)], 600)


def lipped_channel():
    outline = [(0, 0), (40, 0), (40, 12), (37, 12), (37, 3), (3, 3), (3, 37), (37, 37), (37, 28), (40, 28), (40, 40)]
    return prism([*outline, (0, 40)], 600)


def tee():
    return prism([(-25, 50), (-25, 44), (-3, 44), (-3, 0), (3, 0), (3, 44), (25, 44), (25, 50)], 600)


def i_beam():
    half = [(25, -50), (25, -44), (3, -44), (3, 44), (25, 44), (25, 50)]
    return prism([*half, *((-y, z) for y, z in reversed(half))], 600)


def zed():
    return prism([(0, 0), (4, 0), (4, 56), (40, 56), (40, 60), (0, 60), (0, 4), (-36, 4), (-36, 0)], 500)


def regular(sides, across_corners, turn=0.0):
    angles = [2 * math.pi * (k + turn) / sides for k in range(sides)]
    return [(across_corners / 2 * math.cos(a), across_corners / 2 * math.sin(a)) for a in angles]


def hexagonal_tube():
    return cut(prism(regular(6, 50), 400), prism(regular(6, 42), 400))


def faceted_round_tube():
    return cut(prism(regular(32, 50), 400), prism(regular(32, 44), 400))


def oval_tube():
    def outline(major, minor):
        ellipse = gp_Elips(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0), gp_Dir(0, 1, 0)), major, minor)
        wire = BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(ellipse).Edge()).Wire()
        return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire).Face(), gp_Vec(400, 0, 0)).Shape()

    return cut(outline(30, 15), outline(27, 12))


def flat_oval_tube():
    return tube_solid(Tube(Section.box(60, 30, 2, 15), 400))


def bent_round_tube():
    """Two straight legs and a quarter bend."""
    ring = cut(
        BRepPrimAPI_MakeTorus(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), 80, 15, math.pi / 2).Shape(),
        BRepPrimAPI_MakeTorus(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), 80, 13, math.pi / 2).Shape(),
    )

    def leg(at, direction):
        frame = gp_Ax2(gp_Pnt(*at), gp_Dir(*direction))
        return cut(BRepPrimAPI_MakeCylinder(frame, 15, 200).Shape(), BRepPrimAPI_MakeCylinder(frame, 13, 200).Shape())

    return fused(ring, leg((80, 0, 0), (0, -1, 0)), leg((0, 80, 0), (-1, 0, 0)))


def bent_square_tube():
    def face_at(y0):
        outer = square_wire(y0, 40)
        made = BRepBuilderAPI_MakeFace(outer)
        made.Add(TopoDS.Wire(square_wire(y0, 34).Reversed()))
        return made.Face()

    def square_wire(y0, side):
        polygon = BRepBuilderAPI_MakePolygon()
        for y, z in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            polygon.Add(gp_Pnt(0, y0 + y * side / 2, z * side / 2))
        polygon.Close()
        return polygon.Wire()

    bend = BRepPrimAPI_MakeRevol(face_at(100), gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), math.pi / 2).Shape()
    leg = BRepPrimAPI_MakePrism(face_at(100), gp_Vec(300, 0, 0)).Shape()
    return fused(bend, leg)


def bolt():
    shank = cylinder(10, 60)
    head = prism(regular(6, 18.5), 6.4)
    return fused(shank, head)


def nut():
    return cut(prism(regular(6, 18.5), 8), cylinder(10, 30, -5))


def washer():
    return cut(cylinder(21, 2), cylinder(10.5, 10, -5))


def stepped_bush():
    return cut(fused(cylinder(30, 40), cylinder(40, 6)), cylinder(20, 100, -5))


def bearing_hub():
    return cut(fused(cylinder(30, 60), cylinder(80, 10)), cylinder(20, 100, -5))


def casting():
    return fused(BRepPrimAPI_MakeSphere(40).Shape(), box(90, 30, 30), BRepPrimAPI_MakeCone(30, 10, 80).Shape())


def half_pipe_block():
    """A milled block with a round groove."""
    return cut(box(100, 60, 40), cylinder(40, 200, -50, 30, 40))


def wing():
    """A free-form body: a B-spline outline drawn out."""
    arc = GC_MakeArcOfCircle(gp_Pnt(0, -50, 0), gp_Pnt(0, 0, 30), gp_Pnt(0, 50, 0)).Value()
    wire = BRepBuilderAPI_MakeWire(
        BRepBuilderAPI_MakeEdge(arc).Edge(), BRepBuilderAPI_MakeEdge(gp_Pnt(0, 50, 0), gp_Pnt(0, -50, 0)).Edge()
    ).Wire()
    body = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire).Face(), gp_Vec(200, 0, 0)).Shape()
    return BRepAlgoAPI_Common(body, BRepPrimAPI_MakeSphere(gp_Pnt(100, 0, 0), 90).Shape()).Shape()


def slit_tube():
    """Open along its whole length by a saw cut of 4 mm."""
    return tube_solid(Tube(SQUARE, 500, openings=(Window(250, 600, 4),)))


def slit_round_tube():
    return tube_solid(Tube(Section.round(48.3, 3), 500, openings=(Window(250, 600, 4),)))


def half_round_tube():
    return cut(tube_solid(Tube(Section.round(60, 3), 300)), box(400, 100, 100, (-10, -50, 0)))


def capped_tube():
    return fused(tube_solid(Tube(SQUARE, 300)), box(3, 36, 36, (0, -18, -18)))


def divided_tube():
    return fused(tube_solid(Tube(SQUARE, 300)), box(3, 36, 36, (150, -18, -18)))


def tube_with_tab():
    return fused(tube_solid(Tube(SQUARE, 300)), box(30, 4, 25, (100, -2, 19)))


def tube_with_dome():
    return fused(tube_solid(Tube(SQUARE, 300)), BRepPrimAPI_MakeSphere(gp_Pnt(150, 0, 14), 9).Shape())


def eccentric_tube():
    return cut(cylinder(50, 300), cylinder(40, 400, -5, 2.0))


def uneven_box_tube():
    return cut(box(300, 40, 40), box(400, 34, 34, (-5, 3, 2)))


def uneven_corner_tube():
    return rounded_along_x(cut(box(300, 40, 40), box(400, 34, 34, (-5, 3, 3))), 5, [(0, 0), (40, 40), (0, 40)])


def chamfered_corner_tube():
    cut_corner = [(5, 0), (35, 0), (40, 5), (40, 35), (35, 40), (5, 40), (0, 35), (0, 5)]
    return cut(prism(cut_corner, 300), box(400, 32, 32, (-5, 4, 4)))


def end_chamfered_tube():
    """A round tube with a 1 mm chamfer on one outer edge."""
    solid = tube_solid(Tube(Section.round(48.3, 3), 200))
    chamfer = BRepFilletAPI_MakeChamfer(solid)
    for edge in edges_of(solid):
        first, last = ends_of(edge)
        if (
            first.Distance(last) < 1e-6
            and abs(first.X()) < 1e-6
            and abs(math.hypot(first.Y(), first.Z()) - 24.15) < 1e-6
        ):
            chamfer.Add(1.0, edge)
            break
    return chamfer.Shape()


def tube_with_pocket():
    return cut(tube_solid(Tube(SQUARE, 300)), box(30, 10, 10, (100, -5, 19)))


def free_form_tube():
    """A drilled square tube, every surface written as a B-spline."""
    return BRepBuilderAPI_NurbsConvert(
        tube_solid(Tube(SQUARE, 300, openings=(Hole(100, 12, both_walls=True),)))
    ).Shape()


def free_form_round_tube():
    return BRepBuilderAPI_NurbsConvert(tube_solid(Tube(Section.round(48.3, 3), 300))).Shape()


def tube_of_loose_faces():
    """A drilled square tube in which no two faces share an edge, as some programs write it."""
    shell, builder = TopoDS_Shell(), BRep_Builder()
    builder.MakeShell(shell)
    explorer = TopExp_Explorer(
        tube_solid(Tube(SQUARE, 300, openings=(Hole(100, 12, both_walls=True),))), TopAbs_ShapeEnum.TopAbs_FACE
    )
    while explorer.More():
        builder.Add(shell, BRepBuilderAPI_Copy(explorer.Current()).Shape())
        explorer.Next()
    solid = TopoDS_Solid()
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def disc():
    return cylinder(80, 5)


def stub_disc():
    return cylinder(40, 18)


def turned(solid, axis, degrees, shift):
    turn, move = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(degrees))
    move.SetTranslation(gp_Vec(*shift))
    return BRepBuilderAPI_Transform(solid, move.Multiplied(turn), True).Shape()


def mirrored(solid):
    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(1, 2, 3), gp_Dir(1, 1, 0)))
    return BRepBuilderAPI_Transform(solid, mirror, True).Shape()


def split_at_quarters(solid):
    """Every round face in pieces of a quarter turn, as some programs write them."""
    divide = ShapeUpgrade_ShapeDivideAngle(math.pi / 2)
    divide.Init(solid)
    divide.Perform()
    return divide.Result()


def free_form(solid):
    """Every surface and curve written as a B-spline."""
    return BRepBuilderAPI_NurbsConvert(solid).Shape()


def open_shell():
    """The faces of a block without one of them."""
    shell, builder = TopoDS_Shell(), BRep_Builder()
    builder.MakeShell(shell)
    explorer = TopExp_Explorer(block(), TopAbs_ShapeEnum.TopAbs_FACE)
    explorer.Next()
    while explorer.More():
        builder.Add(shell, explorer.Current())
        explorer.Next()
    return shell
