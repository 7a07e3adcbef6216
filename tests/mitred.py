"""Mitred parts and jobs for tests of bars, told by their angles and, for judging, as solids of Open CASCADE."""

import itertools
import math

from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Demand
from nesting.model.part import TubePart
from nesting.model.plane_end import plane_end
from nesting.model.section import Section
from nesting.model.stock import Bar

BOX = Section.box(40, 40, 3, 6)
TALL = Section.box(60, 40, 3, 6)
ROUND = Section.round(48.3, 3)
ANGLE = Section.angle(50, 50, 5, 7, 3.5)
UNEQUAL = Section.angle(60, 40, 5, 6, 3)
CHANNEL = Section.channel(100, 50, 5, 8.5, 9)
TEE = Section.tee(50, 60, 5, 6, 4, 2)
I_BEAM = Section.i_beam(96, 100, 5, 8, 12)
OVAL = Section.oval(60, 30, 2)
SECTIONS = (BOX, TALL, ROUND, ANGLE, UNEQUAL, CHANNEL, TEE, I_BEAM, OVAL)


def mitred(name, section, length, start=None, end=None):
    """A part whose ends are None for square, or (angle, towards)."""
    ends = tuple(
        plane_end(section, length, *(cut or (0.0, 0.0)), at_start=at_start)
        for cut, at_start in ((start, True), (end, False))
    )
    return TubePart(name, section, length, square_ends=start is None and end is None, ends=ends)


def frame_side(name="side", section=BOX, length=600.0, angle=45.0):
    """Both long points at the top."""
    return mitred(name, section, length, (angle, 90.0), (angle, 90.0))


def brace(name="brace", section=BOX, length=500.0, angle=45.0):
    """Long points at opposite sides."""
    return mitred(name, section, length, (angle, 90.0), (angle, 270.0))


def mitred_job(*demands, rules=None, bars=None):
    return BarJob(
        tuple(bars or [Bar("6 m", 6000.0)]),
        rules or BarRules(5.0),
        tuple(Demand(part, count) for part, count in demands),
    )


def nest_of(job, *pieces, stock=None):
    return BarNest(job, (BarLayout(stock or job.stock[0].name, pieces),))


def depth(section, angle):
    """How far a mitre towards the top reaches along the bar."""
    return section.height * math.tan(math.radians(angle))


class Solids:
    """Pieces as solids where they lie, moved by the geometry kernel and not by our own code."""

    def __init__(self, job):
        from nesting.tube.tube_solids import Mitre, Tube, tube_solid

        self._made = {}
        for demand in job.demands:
            part = demand.part
            ends = [Mitre(cut.angle, cut.towards) if cut.angle else None for cut in part.ends]
            self._made[part.name] = tube_solid(Tube(part.section, part.length, part.name, *ends)), part.length

    def laid(self, piece):
        from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
        from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

        solid, length = self._made[piece.part]
        moves = []
        if piece.flipped:  # half a turn about the upright line through the middle of the length
            flip = gp_Trsf()
            flip.SetRotation(gp_Ax1(gp_Pnt(length / 2.0, 0, 0), gp_Dir(0, 0, 1)), math.pi)
            moves.append(flip)
        turn, shift = gp_Trsf(), gp_Trsf()
        turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)), math.radians(piece.turn))
        shift.SetTranslation(gp_Vec(piece.start, 0, 0))
        for move in (*moves, turn, shift):
            solid = BRepBuilderAPI_Transform(solid, move, True).Shape()
        return solid

    def shared_volumes(self, layout):
        """The volume that each two neighbours have in common, mm³."""
        from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
        from OCP.BRepGProp import BRepGProp
        from OCP.GProp import GProp_GProps

        found = []
        for one, other in itertools.pairwise(self.laid(piece) for piece in layout.pieces):
            measured = GProp_GProps()
            BRepGProp.VolumeProperties_s(BRepAlgoAPI_Common(one, other).Shape(), measured)
            found.append(measured.Mass())
        return found

    def distances(self, layout):
        """The least distance between each two neighbours, in any direction."""
        from OCP.BRepExtrema import BRepExtrema_DistShapeShape

        return [
            BRepExtrema_DistShapeShape(one, other).Value()
            for one, other in itertools.pairwise(self.laid(piece) for piece in layout.pieces)
        ]
