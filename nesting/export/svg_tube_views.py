"""Pictures of a tube part from its four sides and at a slant, drawn from its ends and cut-outs.

They are line drawings of the outer surface: what a wall hides is left out. Plain stretches of long tube are left out
too, between break lines. From each side the start is on the left; from row to row the tube is rolled by a quarter.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from nesting.export.rolled import Rolled, Shortened
from nesting.export.svg_dimensions import across
from nesting.export.svg_paths import View, escaped, measure, number, picture, point, text, text_width
from nesting.export.svg_tube import end_view, thickness_words
from nesting.geometry.contour import Contour, Path
from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.model.tube_cuts import SIDES, EndCut, EndKind
from nesting.units import PICTURE_CHORD, Deg, Mm, Point

STEPS_ROUND = 72
"""Steps once round in which lines over round walls are drawn."""

MOST_LINES = 12
"""Cut-outs told in words under a picture; the reading lists them all."""

SLANT = (-0.55, -0.72, 0.62)
"""Where the picture at a slant is seen from: before the start, in front and above; not to any standard's angles."""

type Place = tuple[Mm, Mm]
type Direction = tuple[float, float, float]


@dataclass(frozen=True)
class Camera:
    """A parallel view: directions to the viewer, to the right and up, each of length 1."""

    viewer: Direction
    right: Direction
    up: Direction

    @classmethod
    def from_side(cls, towards: Deg) -> "Camera":
        """From straight beside the tube, x running right."""
        y, z = math.cos(math.radians(towards)), math.sin(math.radians(towards))
        return cls((0.0, y, z), (1.0, 0.0, 0.0), (0.0, z, -y))

    @classmethod
    def at_a_slant(cls, turn: Deg) -> "Camera":
        """With the tube rolled by `turn` about its axis."""
        length = math.hypot(*SLANT)
        a, b, c = (value / length for value in SLANT)
        flat = math.hypot(a, b)
        right = (-b / flat, a / flat, 0.0)
        up = (b * right[2] - c * right[1], c * right[0] - a * right[2], a * right[1] - b * right[0])
        cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))

        def rolled(way: Direction) -> Direction:
            return way[0], way[1] * cosine + way[2] * sine, way[2] * cosine - way[1] * sine

        return cls(rolled((a, b, c)), rolled(right), rolled(up))


@dataclass(frozen=True)
class Scene:
    """A part as one camera sees it."""

    part: TubePart
    camera: Camera

    @cached_property
    def rolled(self) -> Rolled:
        return Rolled(self.part.section.outlines[0])

    @cached_property
    def shortened(self) -> Shortened:
        return Shortened.of(self.part)

    @cached_property
    def _ring(self) -> list[Point]:
        return self.part.section.outlines[0].flattened(PICTURE_CHORD)

    def seen_at(self, x: Mm, y: Mm, z: Mm) -> Point:
        """Where a point in space stands in the picture."""
        drawn = self.shortened.at(x)
        right, up = self.camera.right, self.camera.up
        return right[0] * drawn + right[1] * y + right[2] * z, up[0] * drawn + up[1] * y + up[2] * z

    def at(self, place: Place) -> Point:
        y, z, *_ = self.rolled.at(place[1])
        return self.seen_at(place[0], y, z)

    def is_seen(self, place: Place) -> bool:
        """Whether the surface faces the viewer there and no other wall stands between."""
        y, z, out_y, out_z = self.rolled.at(place[1])
        along, to_y, to_z = self.camera.viewer
        if out_y * to_y + out_z * to_z < 1e-6:
            return False
        if self.part.section.is_hollow:
            return True
        reach = self._wall_before(y + 1e-3 * out_y, z + 1e-3 * out_z, to_y, to_z)
        return reach is None or not 0.0 <= place[0] + reach * along <= self.part.length

    def _wall_before(self, y: Mm, z: Mm, to_y: float, to_z: float) -> float | None:
        """How far towards the viewer the outline is met first, in lengths of the way there; None where it is not."""
        met = []
        ring = self._ring
        for (y0, z0), (y1, z1) in zip(ring, [*ring[1:], ring[0]], strict=True):
            dy, dz = y1 - y0, z1 - z0
            turn = to_y * dz - to_z * dy
            if abs(turn) < 1e-12:
                continue
            reach = ((y0 - y) * dz - (z0 - z) * dy) / turn
            share = ((y0 - y) * to_z - (z0 - z) * to_y) / turn
            if reach > 0.0 and 0.0 <= share <= 1.0:
                met.append(reach)
        return min(met, default=None)

    def lines(self) -> list[list[Point]]:
        """Everything that is seen, as runs of points."""
        ends = self.part.ends
        runs = self._long_lines()
        for sign, end in zip((-1.0, 1.0), ends or (), strict=False):
            places = fine_places(end.path, self.rolled.girth)
            if sign * self.camera.viewer[0] > 1e-6:
                runs.append([self.at(place) for place in places])
                runs += self._bore(end, sign)
            else:
                runs += self._seen_runs(places)
        for cut in self.part.cut_outs:
            for contour in cut.contours:
                places = fine_places(contour, self.rolled.girth)
                runs += self._seen_runs([*places, places[0]])
        return runs

    def _seen_runs(self, places: Sequence[Place]) -> list[list[Point]]:
        runs: list[list[Point]] = [[]]
        for first, last in pairwise(places):
            if self.is_seen(((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0)):
                runs[-1] += [self.at(last)] if runs[-1] else [self.at(first), self.at(last)]
            elif runs[-1]:
                runs.append([])
        return [run for run in runs if len(run) > 1]

    def _bore(self, end: EndCut, sign: float) -> list[list[Point]]:
        """The inner outline at an end that faces the viewer, where that is square or a mitre."""
        rings = self.part.section.outlines
        if len(rings) < 2 or end.kind not in (EndKind.SQUARE, EndKind.MITRE):
            return []
        slope = math.tan(math.radians(end.angle)) if end.kind is EndKind.MITRE else 0.0
        to_y, to_z = math.cos(math.radians(end.towards)), math.sin(math.radians(end.towards))
        x, s, _ = end.path.vertices[0]
        y0, z0, *_ = self.rolled.at(s)
        inner = rings[1].flattened(PICTURE_CHORD)
        points = [(x + sign * slope * ((y - y0) * to_y + (z - z0) * to_z), y, z) for y, z in [*inner, inner[0]]]
        return [[self.seen_at(*each) for each in points]]

    def _long_lines(self) -> list[list[Point]]:
        """Along the tube: where the surface turns, and where it turns away from the viewer."""
        if self.part.ends is None:
            return []
        start, end = (fine_places(cut.path, self.rolled.girth) for cut in self.part.ends)
        runs = []
        for s in [*self.rolled.borders, *self._silhouettes()]:
            low, high = max(xs_at(start, s), default=0.0), min(xs_at(end, s), default=self.part.length)
            near = (s - 1e-3, s + 1e-3)
            if not any(self.is_seen(((low + high) / 2.0, at)) for at in near):
                continue
            for first, last, _ in self.shortened.stretches:
                if max(first, low) < min(last, high):
                    runs.append([self.at((max(first, low), s)), self.at((min(last, high), s))])
        return runs

    def _silhouettes(self) -> list[Mm]:
        _, to_y, to_z = self.camera.viewer
        count = 4 * STEPS_ROUND
        step = self.rolled.girth / count
        found = []
        for k in range(count):
            # Off the round fractions of a turn, where a side view's own silhouettes stand.
            first, last = (k - 0.37) * step, (k + 0.63) * step
            facing = [ny * to_y + nz * to_z for _, _, ny, nz in (self.rolled.at(first), self.rolled.at(last - 1e-9))]
            if facing[0] * facing[1] < 0.0:
                found.append(first + step * facing[0] / (facing[0] - facing[1]))
        return found


def fine_places(path: Path, girth: Mm) -> list[Place]:
    """Places along a path, close enough together to be drawn over round walls."""
    points = path.flattened(PICTURE_CHORD)
    if isinstance(path, Contour) and points[0] != points[-1]:
        points = [*points, points[0]]
    places = [points[0]]
    for first, last in pairwise(points):
        count = max(1, math.ceil(abs(last[1] - first[1]) / girth * STEPS_ROUND))
        for k in range(1, count + 1):
            share = k / count
            places.append((first[0] + share * (last[0] - first[0]), first[1] + share * (last[1] - first[1])))
    return places


def xs_at(places: Sequence[Place], s: Mm) -> list[Mm]:
    """Every x at which a run of places passes s."""
    found = []
    for (x0, s0), (x1, s1) in pairwise(places):
        if min(s0, s1) <= s <= max(s0, s1):
            share = (s - s0) / (s1 - s0) if s1 != s0 else 0.0
            found.append(x0 + share * (x1 - x0))
    return found


def sides_svg(part: TubePart, findings: Sequence[Finding] = ()) -> str:
    """The part from its four sides, one under the other, with its length, its cuts in words, and numbered findings."""
    tall = max(part.section.height, part.section.width)
    letter, row = 0.2 * tall, 1.5 * tall
    body, right = list[str](), Shortened.of(part).length
    for k, side in enumerate(SIDES):
        scene = Scene(part, Camera.from_side(90.0 * k))
        down = -k * row
        body.append(f'<g class="piece" data-side="{side}"><path fill="none" d="{_data(scene.lines(), down)}"/></g>')
        body.append(text(-0.8 * letter, down, letter, side, css="end quiet"))
        body += [_break_mark(a, b, down, tall) for a, b in scene.shortened.breaks]
        body += _pins(scene, findings, down, letter)
    end = "".join(end_view(part.section, right + 5.0 * letter, letter))
    body.append(f'<g transform="translate(0 {number(part.section.height / 2.0)})">{end}</g>')
    lowest = -3.0 * row - 0.5 * tall - 2.6 * letter
    body.append(across(0.0, right, lowest, letter, from_y=lowest + 1.8 * letter, words=measure(part.length)))
    lines = in_words(part)
    for line in lines:
        lowest -= 1.5 * letter
        body.append(text(0.0, lowest, letter, line, css="start quiet"))
    wide = max([right + 5.0 * letter + part.section.width, *(text_width(line, letter) for line in lines)])
    view = View(-4.5 * letter, lowest - letter, wide + letter, 0.5 * tall + letter)
    words = f"{part.section}, {measure(part.length)} long, seen from its four sides. {'. '.join(lines)}."
    return picture("tube-picture", view, part.name, words, body, role="img")


def slanted_svg(part: TubePart, turn: Deg = 0.0, findings: Sequence[Finding] = ()) -> str:
    """The part at a slant, rolled by `turn` about its axis."""
    scene = Scene(part, Camera.at_a_slant(turn))
    runs = scene.lines()
    points = [each for run in runs for each in run] or [(0.0, 0.0), (1.0, 1.0)]
    tall = part.section.height
    pad = 0.3 * tall
    low_x, high_x = min(p[0] for p in points), max(p[0] for p in points)
    low_y, high_y = min(p[1] for p in points), max(p[1] for p in points)
    letter = max(0.04 * (high_x - low_x), 0.06 * (high_y - low_y))
    body = [f'<g class="piece" data-view="slanted"><path fill="none" d="{_data(runs, 0.0)}"/></g>']
    body += _pins(scene, findings, 0.0, letter)
    label = f"{part.section}, {measure(part.length)}" + (f", rolled by {turn:g}°" if turn else "")
    body.append(text(low_x, low_y - 1.2 * letter, letter, label, css="start"))
    right = max(high_x, low_x + text_width(label, letter))
    view = View(low_x - pad, low_y - 2.4 * letter, right + pad, high_y + pad)
    return picture("tube-picture", view, part.name, f"{label}, seen at a slant.", body, role="img")


def in_words(part: TubePart) -> list[str]:
    """Thickness and radii, ends and cut-outs, one line each."""
    lines = [line for line in (thickness_words(part.section),) if line]
    lines += [f"{name}: {end}" for name, end in zip(("start", "end"), part.ends or (), strict=False)]
    lines += [str(cut) for cut in part.cut_outs[:MOST_LINES]]
    more = len(part.cut_outs) - MOST_LINES
    return lines + ([f"and {more} more"] if more > 0 else [])


def _data(runs: Iterable[Sequence[Point]], down: Mm) -> str:
    return "".join("M" + "L".join(point(x, y + down) for x, y in run) for run in runs)


def _break_mark(left: Mm, right: Mm, down: Mm, tall: Mm) -> str:
    """Two zigzags where a plain stretch is left out."""
    half, sway = 0.55 * tall, 0.08 * tall
    data = "".join(
        f"M{point(x, down + half)}L{point(x, down + sway)}L{point(x - sway, down)}L{point(x + sway, down)}"
        f"L{point(x, down - sway)}L{point(x, down - half)}"
        for x in (left, right)
    )
    return f'<path class="thin" d="{data}"/>'


def _pins(scene: Scene, findings: Sequence[Finding], down: Mm, letter: Mm) -> list[str]:
    places = [
        (figure, finding, scene.at(finding.at))
        for figure, finding in enumerate(findings, 1)
        if finding.at is not None and scene.is_seen(finding.at)
    ]
    return [pin(figure, finding, (x, y + down), letter) for figure, finding, (x, y) in places]


def pin(figure: int, finding: Finding, at: Point, letter: Mm) -> str:
    """A numbered disc; `figure` counts all findings of the reading from 1."""
    css = "pin note" if finding.severity is Severity.NOTE else "pin"
    disc = f'<circle cx="{number(at[0])}" cy="{number(-at[1])}" r="{number(0.8 * letter)}"/>'
    title = f"<title>{figure} {escaped(finding.message)}</title>"
    return f'<g class="{css}" data-finding="{figure}">{title}{disc}{text(*at, letter, str(figure))}</g>'
