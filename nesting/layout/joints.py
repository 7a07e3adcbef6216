"""What pieces save of a bar where the ends that face each other are mitred alike: they overlap, and one cut may do.

A *face* is a plane end as laid: the x that it gains for each millimetre across and upwards. A piece may be turned about
the bar's axis as often as its section lies on itself, so faces that turns lay on each other are of one *kind*, and what
two neighbours save depends on the kinds of their facing ends alone. A blunt end (cope, notch, unknown) saves nothing.
"""

import math
from dataclasses import dataclass
from functools import cache, cached_property

from nesting.geometry.ring_walk import RingWalk
from nesting.model.laid_piece import ROUND, fits_section, laid_direction
from nesting.model.nest import BarJob, Piece
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.model.tube_cuts import EndCut, EndKind
from nesting.units import Deg, Mm

ONE_FACE = 1e-6
"""Slopes closer than this are one: under a tenth of a micrometre over a tube 100 mm across."""

SAVES: Mm = 1e-6
"""Less is float noise."""

SAME_SECTION: Mm = 0.05
"""Sections whose measures differ by less are one bar's, read from two files."""

BEVELLED: Deg = 0.5
"""Cut faces that lean less from square to the surface follow no plane through the wall."""

QUARTERS: tuple[Deg, ...] = (0.0, 90.0, 180.0, 270.0)

type Kind = int
"""Which faces an end may show, all turns of it taken as one."""

BLUNT: Kind = 0
SQUARE: Kind = 1


@dataclass(frozen=True)
class Face:
    y: float
    z: float
    bevelled: bool = False

    def turned(self, turn: Deg) -> "Face":
        a = math.radians(turn)
        return Face(
            self.y * math.cos(a) - self.z * math.sin(a), self.y * math.sin(a) + self.z * math.cos(a), self.bevelled
        )

    @property
    def slope(self) -> float:
        return math.hypot(self.y, self.z)

    def is_like(self, other: "Face") -> bool:
        return (
            self.bevelled is other.bevelled
            and abs(self.y - other.y) <= ONE_FACE * (1.0 + self.slope)
            and abs(self.z - other.z) <= ONE_FACE * (1.0 + self.slope)
        )


FLAT = Face(0.0, 0.0)


@dataclass(frozen=True)
class Way:
    """One way to lay a part: end for end or not, the least turn, and kind and face of the two ends then."""

    flipped: bool
    turn: Deg
    near: Kind
    far: Kind
    near_face: Face | None
    far_face: Face | None


class Joints:
    """The ways of a job's parts, and what any two facing ends save."""

    def __init__(self, job: BarJob) -> None:
        self._rules = job.rules
        self.gap = job.rules.gap
        mitred = [d.part for d in job.demands if any(end.kind is EndKind.MITRE for end in d.part.ends or ())]
        # A job is one section's. Where rows without a section stand beside it, the mitred ones are what counts.
        self.section: Section | None = mitred[0].section if mitred else None
        self._faces: list[Face] = [FLAT]
        self.ways = {demand.part.name: self._ways_of(demand.part) for demand in job.demands}

    @property
    def kind_count(self) -> int:
        return len(self._faces) + 1

    @cached_property
    def may_save(self) -> bool:
        """Whether any two facing ends save anything at all."""
        ways = [way for ways in self.ways.values() for way in ways]
        fars, nears = {way.far for way in ways}, {way.near for way in ways}
        return any(self.saved(far, near) > SAVES for far in fars for near in nears)

    @cached_property
    def turns(self) -> tuple[Deg, ...]:
        """Turns between any two ways of one part: a group, so that a neighbour can follow each of them."""
        if self.section is None or self._turns_freely:
            return (0.0,)
        allowed = self._allowed(self.section, flipped=False)
        steps = sorted({(turn - allowed[0]) % 360.0 for turn in allowed}) if allowed else []
        for group in (steps, [0.0, 180.0]):
            if set(group) <= set(steps) and all((a + b) % 360.0 in group for a in group for b in group):
                return tuple(group)
        return (0.0,)

    @property
    def _turns_freely(self) -> bool:
        return self.section is not None and self.section.shape in ROUND and self._rules.turns == "any"

    def _allowed(self, section: Section, *, flipped: bool) -> list[Deg]:
        listed = QUARTERS if self._rules.turns == "any" else tuple(turn % 360.0 for turn in self._rules.turns)
        return [turn for turn in listed if fits_section(section, flipped=flipped, turn=turn)]

    def _ways_of(self, part: TubePart) -> tuple[Way, ...]:
        """At least one, as long as the rules allow any turn that the section has."""
        found: list[Way] = []
        for flipped in (False, True) if self._rules.flip else (False,):
            allowed = self._allowed(part.section, flipped=flipped)
            if not allowed:
                continue
            if flipped and not all(any(abs((allowed[0] + t) % 360.0 - a) < 1e-9 for a in allowed) for t in self.turns):
                continue
            piece = Piece(part.name, 0.0, flipped, allowed[0])
            near, far = self._faces_of(part, piece)
            way = Way(flipped, piece.turn, self._kind(near), self._kind(far), near, far)
            if not any((way.near, way.far) == (other.near, other.far) for other in found):
                found.append(way)
        return tuple(found)

    def _faces_of(self, part: TubePart, piece: Piece) -> tuple[Face | None, Face | None]:
        if part.ends is None:
            face = FLAT if part.square_ends else None
            return face, face
        own = self.section is not None and is_one_section(part.section, self.section)
        ends = tuple(reversed(part.ends)) if piece.flipped else part.ends
        near, far = (_face(end, piece, out, own=own) for end, out in zip(ends, (-1.0, 1.0), strict=True))
        if near and far and own:
            # What is left of the length where the two come nearest: pieces that end in a point keep to their extent.
            left = part.length - self.reach(far) - self.reach(near, -1.0) - self.apart(near, far)
            if left < 0.0:
                return None, None
        return near, far

    def _kind(self, face: Face | None) -> Kind:
        if face is None:
            return BLUNT
        for k, known in enumerate(self._faces):
            if self._turns_freely:
                same = known.bevelled is face.bevelled and abs(known.slope - face.slope) <= ONE_FACE * (1 + face.slope)
            else:
                same = any(known.turned(turn).is_like(face) for turn in self.turns)
            if same:
                return k + 1
        self._faces.append(face)
        return len(self._faces)

    @cached_property
    def _walk(self) -> RingWalk | None:
        return None if self.section is None else RingWalk(self.section.outlines[0])

    def reach(self, face: Face, sign: float = 1.0) -> Mm:
        """How far the face's plane runs out over the outline, from the axis on."""
        return 0.0 if self._walk is None or face.slope == 0.0 else self._walk.reach(sign * face.y, sign * face.z)

    def apart(self, one: Face, other: Face) -> Mm:
        """How far the planes must stand apart on the axis so that they just touch within the outline."""
        return self.reach(Face(one.y - other.y, one.z - other.z))

    def saved_by(self, far: Face | None, near: Face | None) -> Mm:
        """What a piece that begins with `near` saves behind one that ends with `far`, both as laid."""
        if far is None or near is None:
            return 0.0
        overlap = 0.0
        if far.slope > 0.0 and near.slope > 0.0 and far.bevelled is near.bevelled:
            overlap = max(0.0, self.reach(far) + self.reach(near, -1.0) - self.apart(far, near))
        return overlap + (self.gap - self.gap_between(far, near))

    def gap_between(self, far: Face, near: Face) -> Mm:
        """What is kept between two faces along the bar: the gap, or one cut where they lie flat on each other."""
        kerf = self._rules.shared_cut
        if kerf is None or not Face(far.y, far.z).is_like(Face(near.y, near.z)):
            return self.gap
        if far.slope > 0.0 and far.bevelled is not near.bevelled:
            return self.gap
        return min(self.gap, kerf * math.sqrt(1.0 + far.slope**2))

    @cache  # noqa: B019 - lives as long as one job is laid
    def saved(self, far: Kind, near: Kind) -> Mm:
        """The most that two kinds save, the one behind turned as suits the one before."""
        if BLUNT in (far, near):
            return 0.0
        one, other = self._faces[far - 1], self._faces[near - 1]
        if self._turns_freely:
            return self.saved_by(Face(one.slope, 0.0, one.bevelled), Face(other.slope, 0.0, other.bevelled))
        return max(self.saved_by(one, other.turned(turn)) for turn in self.turns)

    @cache  # noqa: B019 - lives as long as one job is laid
    def half(self, kind: Kind) -> Mm:
        """Half of the most that an end of this kind can save together with any other: for bounds."""
        if kind == BLUNT:
            return 0.0
        face = self._faces[kind - 1]
        # Source: derivation. A reach is subadditive, so what two ends share is at most half of the depths of both.
        # What a shared cut spares is the ends' in halves too, and no cut is narrower along the bar than the kerf.
        kerf = self._rules.shared_cut
        spared = 0.0 if kerf is None else self.gap - min(self.gap, kerf * math.sqrt(1.0 + face.slope**2))
        return (self.reach(face) + self.reach(face, -1.0) + spared) / 2.0

    def turned_to(self, before: Face | None, way: Way, towards: Deg = 90.0) -> tuple[Deg, Face | None]:
        """The turn at which the way saves most behind a face, and the face that it then shows at its far end.

        Where nothing is to be saved a round piece turns its mitre `towards` a side, and any other stays as it is.
        """
        if self._turns_freely:
            return self._turned_freely(before, way, towards)
        best, most = 0.0, -math.inf
        for turn in self.turns:
            saved = self.saved_by(before, way.near_face and way.near_face.turned(turn))
            if saved > most + 1e-9:
                best, most = turn, saved
        return (way.turn + best) % 360.0, way.far_face and way.far_face.turned(best)

    def _turned_freely(self, before: Face | None, way: Way, towards: Deg) -> tuple[Deg, Face | None]:
        near, far = way.near_face, way.far_face
        turn = 0.0
        if near and before and near.slope > 0.0 and before.slope > 0.0:
            turn = _direction(before) - _direction(near)
        elif near and near.slope > 0.0:
            turn = towards + 180.0 - _direction(near)  # at the front end the long point lies against the slope
        elif far and far.slope > 0.0:
            turn = towards - _direction(far)
        turn = (way.turn + turn) % 360.0
        turn = 0.0 if min(turn, 360.0 - turn) < 1e-9 else turn
        return turn, far and far.turned(turn - way.turn)


def is_one_section(one: Section, other: Section) -> bool:
    """Whether pieces of both may come from one bar."""
    measures = ("height", "width", "wall", "corner_radius", "flange", "root_radius", "toe_radius")
    return one.shape is other.shape and all(abs(getattr(one, m) - getattr(other, m)) <= SAME_SECTION for m in measures)


def _face(cut: EndCut, piece: Piece, out: float, *, own: bool) -> Face | None:
    if cut.kind is EndKind.SQUARE:
        return FLAT
    if cut.kind is not EndKind.MITRE or not own:
        return None
    slope, towards = out * math.tan(math.radians(cut.angle)), math.radians(laid_direction(piece, cut.towards))
    return Face(slope * math.cos(towards), slope * math.sin(towards), cut.bevel > BEVELLED)


def _direction(face: Face) -> Deg:
    return math.degrees(math.atan2(face.z, face.y))
