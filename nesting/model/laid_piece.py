"""How a piece lies on its bar: its ends and its cut contours after it was turned, as cut files, pictures and checks see
them.

A piece is first turned end for end about its height axis, where `flipped` says so, then about the bar's axis by `turn`,
and then shifted to `start`. A direction round the tube of the angle a (from +y towards +z) so becomes 180 - a where it
is flipped, and then a + turn; x becomes length - x where it is flipped. No piece is ever mirrored.
"""

import math
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from nesting.errors import BadValue
from nesting.geometry.arcs import FLAT, arc_angle, arc_circle, arc_length
from nesting.geometry.contour import Contour, Path, Vertex
from nesting.geometry.ring_walk import RingWalk
from nesting.model.nest import Piece
from nesting.model.part import TubePart
from nesting.model.section import Section, SectionShape
from nesting.model.tube_cuts import EndCut, EndKind
from nesting.units import SAME_POINT, Deg, Mm, Point

ROUND = frozenset({SectionShape.ROUND, SectionShape.ROUND_BAR})

FITS_WITHIN: Mm = 1e-4
"""How far an outline may lie beside itself after a turn that it allows: the noise of a section that was read."""


@lru_cache(maxsize=4096)
def fits_section(section: Section, *, flipped: bool, turn: Deg) -> bool:
    """Whether the section's outline lies on itself after the piece was turned so."""
    if section.shape in ROUND or not (flipped or turn):
        return True
    ring = section.outlines[0]
    walk = RingWalk(ring)
    # Lines and arcs lie on others where their ends and middles do.
    ways = _ways(ring)
    middles = [(s + t) / 2.0 for s, t in zip(ways, [*ways[1:], walk.girth], strict=True)]
    moved = (_turned(walk.point_at(s), flipped, turn) for s in [*ways, *middles])
    return all(walk.way_to(point)[1] <= FITS_WITHIN for point in moved)


def laid_direction(piece: Piece, direction: Deg) -> Deg:
    """Where a direction round the tube points once the piece is laid, 0 up to 360."""
    laid = ((180.0 - direction if piece.flipped else direction) + piece.turn) % 360.0
    return 0.0 if laid > 360.0 - 1e-9 else laid


def laid_ends(part: TubePart, piece: Piece) -> tuple[EndCut, EndCut] | None:
    """The cut that lies nearer to the bar's front and the other one, their paths in x along the bar; None where only
    the part's length is known.

    Raises:
        BadValue: the part's section does not lie on itself when turned so.
    """
    if part.ends is None:
        return None
    move = _Move(part, piece)
    near, far = (_laid_end(cut, move) for cut in (reversed(part.ends) if piece.flipped else part.ends))
    return near, far


def laid_kinds(part: TubePart, piece: Piece) -> tuple[EndCut, EndCut] | None:
    """As `laid_ends`, but the paths are still those of the part: for words, whatever the turn."""
    if part.ends is None:
        return None
    near, far = (_turned_end(cut, piece) for cut in (reversed(part.ends) if piece.flipped else part.ends))
    return near, far


def laid_cut_outs(part: TubePart, piece: Piece) -> tuple[Contour, ...]:
    """The contours that the beam follows to cut the part's openings, in x along the bar.

    In open profiles the beam goes through both faces of a wall at once: one contour is one cut.

    Raises:
        BadValue: the part's section does not lie on itself when turned so.
    """
    move = _Move(part, piece)
    return tuple(move.ring(cut.contours[0]) for cut in part.cut_outs)


def lie_in_words(piece: Piece) -> str:
    """Such as "end for end, turned 180° about the bar's axis"; "" for a piece that lies as it was drawn."""
    turn = piece.turn % 360.0
    words = ["end for end"] if piece.flipped else []
    if min(turn, 360.0 - turn) > 0.005:
        words.append(f"turned {turn:.2f}".rstrip("0").rstrip(".") + "° about the bar's axis")
    return ", ".join(words)


def _turned(point: Point, flipped: bool, turn: Deg) -> Point:
    y, z = (-point[0], point[1]) if flipped else point
    # Quarter turns are exact, so that equal pieces stay equal.
    quarter, rest = divmod(turn % 360.0, 90.0)
    if rest:
        cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    else:
        cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return y * cosine - z * sine, y * sine + z * cosine


def _ways(ring: Contour) -> list[Mm]:
    ways, s = [], 0.0
    points = [(x, y) for x, y, _ in ring.vertices]
    for start, end, (*_, bulge) in zip(points, [*points[1:], points[0]], ring.vertices, strict=True):
        ways.append(s)
        s += arc_length(start, end, bulge)
    return ways


def _turned_end(cut: EndCut, piece: Piece) -> EndCut:
    """The cut with its direction as laid."""
    if cut.kind in (EndKind.MITRE, EndKind.NOTCHED):
        return replace(cut, towards=laid_direction(piece, cut.towards))
    if cut.kind is not EndKind.COPE:
        return cut
    towards, offset = laid_direction(piece, cut.towards), -cut.offset if piece.flipped else cut.offset
    if cut.angle == 90.0 and towards >= 180.0:  # an axis square to the tube has no direction, only a line
        towards, offset = towards - 180.0, -offset
    return replace(cut, towards=towards, offset=offset)


def _laid_end(cut: EndCut, move: "_Move") -> EndCut:
    return replace(_turned_end(cut, move.piece), path=move.run(cut.path))


class _Move:
    """The move of unrolled places from a part to its bar."""

    def __init__(self, part: TubePart, piece: Piece) -> None:
        self.piece, self._length = piece, part.length
        self._shift = 0.0
        self._girth = part.section.girth
        if not (piece.flipped or piece.turn):
            return
        if not fits_section(part.section, flipped=piece.flipped, turn=piece.turn):
            raise BadValue(f"{part.name}: {part.section} does not lie on itself when {lie_in_words(piece)}.")
        walk = RingWalk(part.section.outlines[0])
        self._girth = walk.girth
        self._shift, _ = walk.way_to(_turned(walk.point_at(0.0), piece.flipped, piece.turn))

    def _vertex(self, vertex: Vertex) -> Vertex:
        x, s, bulge = vertex
        if self.piece.flipped:  # half a turn of the flat picture, so arcs keep their direction
            return self.piece.start + self._length - x, self._shift - s, bulge
        return self.piece.start + x, self._shift + s, bulge

    def ring(self, ring: Contour) -> Contour:
        """A contour whose middle then lies within the first round."""
        moved = Contour(tuple(self._vertex(vertex) for vertex in ring.vertices))
        middle = (moved.bounds.bottom + moved.bounds.top) / 2.0
        rounds = self._girth * math.floor((middle + SAME_POINT) / self._girth)
        return Contour(tuple((x, s - rounds, bulge) for x, s, bulge in moved.vertices)) if rounds else moved

    def run(self, path: Path) -> Path:
        """A run once round, which again begins at s = 0."""
        vertices = [self._vertex(vertex) for vertex in path.vertices]
        if self.piece.flipped:
            bulges = [-bulge for *_, bulge in vertices[-2::-1]] + [0.0]
            vertices = [(x, s, bulge) for (x, s, _), bulge in zip(vertices[::-1], bulges, strict=True)]
        if abs(self._shift) < SAME_POINT and not self.piece.flipped:
            return Path(tuple(vertices))
        return Path(tuple(_from_zero(vertices, self._girth)))


def _from_zero(run: list[Vertex], girth: Mm) -> list[Vertex]:
    """The run once round, cut open where it first passes a whole number of girths, and begun at s = 0."""
    zero = girth * math.ceil((run[0][1] - SAME_POINT) / girth)
    reach = zero + SAME_POINT
    k = next((k for k, (one, other) in enumerate(pairwise(run)) if one[1] <= reach < other[1]), None)
    if k is None:  # it does not go once round, so there is nothing to cut open
        return [(x, s - run[0][1], bulge) for x, s, bulge in run]
    (x0, s0, bulge), (x1, s1, _) = run[k], run[k + 1]
    if abs(s0 - zero) <= SAME_POINT:
        x, first, second = x0, 0.0, bulge
    elif abs(bulge) < FLAT:
        x, first, second = x0 + (x1 - x0) * (zero - s0) / (s1 - s0), 0.0, 0.0
    else:
        x, first, second = _arc_halves((x0, s0), (x1, s1), bulge, zero)
    kept = [(x, zero, second), *run[k + 1 : -1]]
    later = [(a, s + girth, b) for a, s, b in run[:k]]
    if abs(s0 - zero) > SAME_POINT:
        later.append((x0, s0 + girth, first))
    joined = [*kept, *later, (x, zero + girth, 0.0)]
    return [(a, s - zero, b) for a, s, b in joined]


def _arc_halves(start: Point, end: Point, bulge: float, s: Mm) -> tuple[Mm, float, float]:
    """The x at which an arc that ends beyond s first passes it, and the bulges of its two parts."""
    (cx, cs), radius = arc_circle(start, end, bulge)
    sweep, first = arc_angle(bulge), math.atan2(start[1] - cs, start[0] - cx)
    up = math.asin(min(1.0, max(-1.0, (s - cs) / radius)))
    turned = [math.copysign(1.0, sweep) * (angle - first) % math.tau for angle in (up, math.pi - up)]
    part = math.copysign(min(*turned, abs(sweep)), sweep)
    return cx + radius * math.cos(first + part), math.tan(part / 4.0), math.tan((sweep - part) / 4.0)
