"""How long a part takes to cut: contours at the feed, pierces, and the moves between them. An estimate.

Only the speeds that a shop states for a machine and a material go in; none is known here. What is left out: loading,
probing, gas changes, lifting of the head, lead-ins, and lines that are
only marked. Both ends of a tube part are cut and pierced, which errs on the
long side where two pieces share a cut.

Sheet. The head runs along lines at the feed v, and round an arc of radius r at sqrt(a·r) at most, since v²/r is the
acceleration that the arc takes. Where contours turn sharply it stops, so the time is an upper bound there.

Tube. The beam stays square to the surface, from above, and the chuck turns the tube under it. Let P = C + r·n be the
place on the outline, n the normal there, r the corner's radius and C its middle, a distance q = |C| from the axis about
which the tube turns.

- On a flat side n is fixed: the tube rests, and the head moves as over sheet.
- Round a corner n turns by ds/r over a way ds, so at a surface speed u the tube turns at w = u/r. Seen from the machine
  n stays upright, so the head stands at C turned by the tube, plus r·n: it runs on a circle of radius q. It then
  accelerates by q·w² towards the axis and q·w' along its way; each is kept to a/sqrt(2), so both together stay within
  a. Hence w is at most the least of u/r, the chuck's own limit, and sqrt(a / (sqrt(2)·q)), and w' at most
  a / (sqrt(2)·q) and the chuck's own limit. The surface speed is r·w: it falls with the corner's radius.
- Where a flat side meets a corner the tube would have to turn at w from rest at once. So the beam comes to rest at both
  ends of every corner that it goes round. At a sharp corner, r = 0, it waits while the tube makes the quarter turn.
- Round tube is one corner with q = 0: the surface speed is the least of v and R·w.

A cut at an angle over a corner turns the tube by its share of the way only: for a step of length l with ds round the
tube, the limits of r·w and r·w' hold for u·ds/l.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from nesting.errors import BadValue
from nesting.geometry.arcs import FLAT, arc_circle, arc_length, arc_points
from nesting.geometry.contour import Contour, Path
from nesting.model.motion import Step, move_time, time_along
from nesting.model.part import Part, SheetPart, TubePart
from nesting.model.section import Section, SectionShape
from nesting.units import CHORD, SAME_POINT, Deg, Mm, Point, Seconds

SMOOTH = math.radians(20.0)
"""A turn below this from one chord to the next is part of a curve: chords of a 10 mm hole turn by 11 degrees."""


@dataclass(frozen=True)
class CutSpeeds:
    """What a machine does in a material: `feed` and `rapid` in mm a minute, `acceleration` of the head in mm/s².

    For tube `turn` is the chuck's limit in degrees a second, and `turn_acceleration`, where stated, in degrees/s².

    Raises:
        BadValue: a value that is no number above 0; a pierce below 0.
    """

    feed: float
    pierce: Seconds
    rapid: float
    acceleration: float
    turn: Deg | None = None
    turn_acceleration: Deg | None = None

    def __post_init__(self) -> None:
        for name in ("feed", "rapid", "acceleration", "turn", "turn_acceleration"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise BadValue(f"CutSpeeds: {name} must be above 0, not {value}.")
        if not (math.isfinite(self.pierce) and self.pierce >= 0.0):
            raise BadValue(f"CutSpeeds: pierce cannot be {self.pierce} s.")


def cut_time(part: Part, speeds: CutSpeeds) -> Seconds | None:
    """The time that one part takes to cut.

    None where it cannot be told: open profiles and bar, which machines turn in ways of their own; a tube whose contours
    are not known; a tube where `turn` is not stated.
    """
    if isinstance(part, SheetPart):
        return _sheet_time(part, speeds)
    if not part.section.is_hollow or part.ends is None or speeds.turn is None or part.hole_count != len(part.cut_outs):
        return None
    return _tube_time(part, speeds, speeds.turn)


# --- sheet


def _sheet_time(part: SheetPart, speeds: CutSpeeds) -> Seconds:
    """Holes from one to the nearest next, then the outline, each begun at its first vertex."""
    flat = _Zones.flat()
    cut = math.fsum(_time_along(ring, flat, speeds) for ring in (*part.holes, part.outer))
    here, moves, left = _begin(part.outer), 0.0, list(part.holes)
    while left:
        nearest = min(left, key=lambda ring: math.dist(here, _begin(ring)))
        left.remove(nearest)
        moves += _rapid(math.dist(here, _begin(nearest)), speeds)
        here = _end(nearest)
    moves += _rapid(math.dist(here, _begin(part.outer)), speeds)
    return cut + moves + part.pierce_count * speeds.pierce


def _rapid(distance: Mm, speeds: CutSpeeds) -> Seconds:
    return move_time(distance, speeds.rapid / 60.0, speeds.acceleration)


def _begin(path: Path) -> Point:
    return path.vertices[0][:2]


def _end(path: Path) -> Point:
    return path.vertices[0 if isinstance(path, Contour) else -1][:2]


# --- tube


def _tube_time(part: TubePart, speeds: CutSpeeds, turn: Deg) -> Seconds:
    """The start, the openings by their place along the tube, and the end."""
    assert part.ends is not None  # noqa: S101 - asked for by the caller
    zones = _Zones.of(part.section)
    openings = sorted((cut.contours[0] for cut in part.cut_outs), key=lambda ring: ring.bounds.left)
    paths: list[Path] = [part.ends[0].path, *openings, part.ends[1].path]
    cut = math.fsum(_time_along(path, zones, speeds) for path in paths)
    moves = 0.0
    for path, following in pairwise(paths):
        (x, s), (next_x, next_s) = _end(path), _begin(following)
        turned = abs(zones.faces(next_s) - zones.faces(s)) % 360.0
        moves += max(_rapid(next_x - x, speeds), move_time(min(turned, 360.0 - turned), turn, _turn_up(speeds)))
    return cut + moves + len(paths) * speeds.pierce


def _turn_up(speeds: CutSpeeds) -> Deg:
    return math.inf if speeds.turn_acceleration is None else speeds.turn_acceleration


@dataclass(frozen=True)
class _Zone:
    """A stretch of the way round: a flat side where `radius` is None, else a corner.

    `off` is how far the middles of the corners lie from the axis. `faces` is the way its beginning faces, in degrees;
    a corner faces a quarter turn further at its end.
    """

    first: Mm
    last: Mm
    faces: Deg
    radius: Mm | None = None
    off: Mm = 0.0


@dataclass(frozen=True)
class _Zones:
    """The zones of one way round; sheet is a single flat one."""

    zones: tuple[_Zone, ...]
    girth: Mm

    @classmethod
    def flat(cls) -> "_Zones":
        return cls((_Zone(-math.inf, math.inf, 0.0),), math.inf)

    @classmethod
    def of(cls, section: Section) -> "_Zones":
        girth = section.girth
        if section.shape is SectionShape.ROUND:
            return cls((_Zone(0.0, girth, 0.0, section.height / 2.0),), girth)
        radius = section.corner_radius
        wide, tall = section.width - 2.0 * radius, section.height - 2.0 * radius
        corner, off = radius * math.pi / 2.0, math.hypot(wide, tall) / 2.0
        zones, s = [], 0.0
        for k, side in enumerate((tall / 2.0, wide, tall, wide, tall / 2.0)):
            zones.append(_Zone(s, s + side, 90.0 * k, None, off))
            zones.append(_Zone(s + side, s + side + corner, 90.0 * k, radius, off))
            s += side + corner
        return cls(tuple(zone for zone in zones[:-1] if zone.last - zone.first > SAME_POINT), girth)

    def at(self, s: Mm) -> _Zone:
        """The zone that a place lies in."""
        if math.isfinite(self.girth):
            s %= self.girth
        return next((zone for zone in self.zones if s <= zone.last), self.zones[-1])

    def faces(self, s: Mm) -> Deg:
        zone = self.at(s)
        if zone.radius is None:
            return zone.faces
        return zone.faces + math.degrees((s % self.girth - zone.first) / zone.radius)

    def bounds_between(self, low: Mm, high: Mm) -> Iterator[Mm]:
        """Places between two where one zone ends and the next begins."""
        if not math.isfinite(self.girth) or len(self.zones) == 1:
            return
        for turn in range(math.floor(low / self.girth), math.floor(high / self.girth) + 1):
            for zone in self.zones[:-1]:
                place = turn * self.girth + zone.last
                if low + SAME_POINT < place < high - SAME_POINT:
                    yield place


@dataclass(frozen=True)
class _Run:
    """A line or arc within one zone: where it begins and ends, and the ways it has there, in radians."""

    start: Point
    end: Point
    length: Mm
    way_in: float
    way_out: float
    zone: _Zone
    arc_radius: Mm = math.inf


def _time_along(path: Path, zones: _Zones, speeds: CutSpeeds) -> Seconds:
    runs = [run for span in path._spans() for run in _runs(span, zones)]
    steps = [_step(run, following, speeds) for run, following in zip(runs, [*runs[1:], None], strict=True)]
    return time_along(steps)


def _runs(span: tuple[Point, Point, float], zones: _Zones) -> Iterator[_Run]:
    """A line or arc, split where zones meet; an arc that leaves its flat side, as chords."""
    start, end, bulge = span
    if abs(bulge) >= FLAT:
        zone = zones.at((start[1] + end[1]) / 2.0)
        ring = Path(((*start, bulge), (*end, 0.0)))
        low, high = ring.bounds.bottom, ring.bounds.top
        if zone.radius is None and not list(zones.bounds_between(low, high)):
            half, chord = 2.0 * math.atan(bulge), math.atan2(end[1] - start[1], end[0] - start[0])
            length, (_, radius) = arc_length(*span), arc_circle(*span)
            yield _Run(start, end, length, chord - half, chord + half, zone, radius)
            return
        points = [*arc_points(start, end, bulge, CHORD), end]
        for first, last in pairwise(points):
            yield from _runs((first, last, 0.0), zones)
        return
    (x, s), (end_x, end_s) = start, end
    stops = sorted(zones.bounds_between(min(s, end_s), max(s, end_s)), reverse=end_s < s)
    points = [start, *((x + (end_x - x) * (stop - s) / (end_s - s), stop) for stop in stops), end]
    for first, last in pairwise(points):
        length = math.dist(first, last)
        if length > SAME_POINT:
            way = math.atan2(last[1] - first[1], last[0] - first[0])
            yield _Run(first, last, length, way, way, zones.at((first[1] + last[1]) / 2.0))


def _step(run: _Run, following: _Run | None, speeds: CutSpeeds) -> Step:
    speed, acceleration = speeds.feed / 60.0, speeds.acceleration
    if run.arc_radius < math.inf:
        speed = min(speed, math.sqrt(acceleration * run.arc_radius))
    zone, share = run.zone, abs(run.end[1] - run.start[1]) / run.length
    if zone.radius is not None and share > 0.0:
        turn, turn_up = _turning(zone.off, speeds)
        speed = min(speed, zone.radius * turn / share)
        acceleration = min(acceleration, zone.radius * turn_up / share)
    if following is None:
        return Step(run.length, speed, acceleration)
    after = following.zone
    if (zone.radius is None) != (after.radius is None):
        return Step(run.length, speed, acceleration)
    if zone.radius is None and (zone.faces - after.faces) % 360.0:  # over a sharp corner
        pause = move_time(math.pi / 2.0, *_turning(zone.off, speeds))
        return Step(run.length, speed, acceleration, pause=pause)
    return Step(run.length, speed, acceleration, _where_they_meet(run, following, speeds.acceleration))


def _turning(off: Mm, speeds: CutSpeeds) -> tuple[float, float]:
    """How fast the tube may turn, and how fast that may change, while the head keeps up; in radians and seconds."""
    assert speeds.turn is not None  # noqa: S101 - no tube is timed without it
    turn, turn_up = math.radians(speeds.turn), math.radians(_turn_up(speeds))
    if off > 0.0:
        most = speeds.acceleration / (math.sqrt(2.0) * off)
        turn, turn_up = min(turn, math.sqrt(most)), min(turn_up, most)
    return turn, turn_up


def _where_they_meet(run: _Run, following: _Run, acceleration: float) -> float:
    """The speed limit where two lines or arcs meet: none on a smooth way, 0 at a sharp turn, and between two chords of
    a curve what its radius allows, which is about the chord over the turn.
    """
    turn = abs((following.way_in - run.way_out + math.pi) % (2.0 * math.pi) - math.pi)
    if turn >= SMOOTH:
        return 0.0
    return math.inf if turn == 0.0 else math.sqrt(acceleration * min(run.length, following.length) / turn)
