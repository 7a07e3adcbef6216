"""Says of each opening of a recognised tube what kind it is, on which face, where and how large."""

import math
from collections.abc import Sequence

import numpy as np

from nesting.geometry.arcs import FLAT, arc_circle
from nesting.geometry.contour import Bounds, Contour
from nesting.model.section import Section, SectionShape
from nesting.model.tube_cuts import SIDES, CutOut, CutOutKind, side_words
from nesting.tube import contours
from nesting.tube.development import cut_ring
from nesting.tube.found_section import FIT, ROUND_OFF
from nesting.tube.section_finder import ALIGNED
from nesting.tube.solid import Face, Solid, Surface
from nesting.tube.tube_shape import Opening, TubeShape
from nesting.tube.unroll import faces_towards, outline_of
from nesting.units import SAME_POINT, Deg, Mm


def cut_outs(solid: Solid, shape: TubeShape) -> tuple[CutOut, ...]:
    """Every opening, in the order of the shape's."""
    return tuple(_cut_out(solid, shape, opening) for opening in shape.openings)


def _cut_out(solid: Solid, shape: TubeShape, opening: Opening) -> CutOut:
    section = shape.section.section
    rings = tuple(cut_ring(solid, shape, contour) for contour in (opening.outer, *opening.far))
    by_ring = _kind_by_ring(rings[0])
    kind, diameter = by_ring or _kind_by_faces([solid.faces[i] for i in opening.faces])
    if opening.slit:
        kind, diameter = CutOutKind.SLIT, 0.0
    bounds = rings[0].bounds if by_ring else _extent(opening.outer, section)
    x, s = (bounds.left + bounds.right) / 2.0, (bounds.bottom + bounds.top) / 2.0
    face, offset = _face(section, bounds.bottom, bounds.top)
    return CutOut(
        kind,
        face,
        round(x, ROUND_OFF),
        round(s, ROUND_OFF),
        round(offset, ROUND_OFF),
        round(faces_towards(section, s), 4),
        round(bounds.width, ROUND_OFF),
        round(bounds.height, ROUND_OFF),
        rings,
        round(diameter, ROUND_OFF),
        round(opening.lean, ROUND_OFF),
    )


def _extent(contour: contours.Contour, section: Section) -> Bounds:
    """The extent with its middle within the first round; of its fine points, which reach further than chords."""
    girth = outline_of(section).girth
    shift = girth * math.floor((contour.middle[1] + SAME_POINT) / girth)
    low, high = float(contour.s.min()) - shift, float(contour.s.max()) - shift
    return Bounds(float(contour.x.min()), low, float(contour.x.max()), high)


def _face(section: Section, first: Mm, last: Mm) -> tuple[str, Mm]:
    """The name of the face between two places round the section, and how far from its middle their middle is."""
    outline, middle = outline_of(section), (first + last) / 2.0
    if last - first >= outline.girth - FIT:
        return "all round", 0.0
    towards = faces_towards(section, middle)
    if section.shape in (SectionShape.ROUND, SectionShape.ROUND_BAR):
        return f"round wall {side_words(towards)}", 0.0
    side = outline.side_at(middle)
    if side is None:
        return f"corner {_sides(towards)}", 0.0
    way, reach = (middle - side.first) % outline.girth, (last - first) / 2.0
    is_within = reach <= way + FIT and way + reach <= side.length + FIT
    return _sides(towards) + ("" if is_within else " and over its corner"), way - side.length / 2.0


def _sides(towards: Deg) -> str:
    quarter, rest = divmod((towards + 0.05) % 360.0, 90.0)
    here = SIDES[int(quarter) % 4]
    return here if rest < 0.1 else f"{here}-{SIDES[(int(quarter) + 1) % 4]}"


def _kind_by_ring(ring: Contour) -> tuple[CutOutKind, Mm] | None:
    """From the unrolled contour where it is made of lines and circles, as on flat sides."""
    spans = [span for span in ring._spans() if math.dist(span[0], span[1]) > FIT / 10.0]
    arcs = [arc_circle(*span) for span in spans if abs(span[2]) >= FLAT]
    if len(arcs) == len(spans) and all(math.dist(c, arcs[0][0]) < FIT and abs(r - arcs[0][1]) < FIT for c, r in arcs):
        return CutOutKind.ROUND, 2.0 * arcs[0][1]
    lines = [(b[0] - a[0], b[1] - a[1]) for a, b, bulge in spans if abs(bulge) < FLAT]
    if not arcs and len(lines) == 4 and _are_square(lines):
        return CutOutKind.RECTANGLE, 0.0
    centres: list[tuple[float, float]] = []
    for centre, _ in arcs:
        if not any(math.dist(centre, known) < FIT for known in centres):
            centres.append(centre)
    if len(lines) == 2 and len(centres) == 2 and max(r for _, r in arcs) - min(r for _, r in arcs) < FIT:
        (ax, ay), (bx, by) = lines
        if abs(ax * by - ay * bx) < ALIGNED * math.hypot(ax, ay) * math.hypot(bx, by):
            return CutOutKind.SLOT, 2.0 * arcs[0][1]
    return None


def _are_square(lines: Sequence[tuple[float, float]]) -> bool:
    return all(
        abs(a[0] * b[0] + a[1] * b[1]) < ALIGNED * math.hypot(*a) * math.hypot(*b)
        for a, b in zip(lines, [*lines[1:], lines[0]], strict=True)
    )


def _kind_by_faces(faces: Sequence[Face]) -> tuple[CutOutKind, Mm]:
    """From the walls of the opening, as a drill or cutter leaves them in round walls and over corners."""
    round_faces = [face for face in faces if face.surface is Surface.CYLINDER and face.is_hollow]
    planes = [face for face in faces if face.surface is Surface.PLANE]
    if len(round_faces) + len(planes) < len(faces) or any(
        np.linalg.norm(np.cross(face.direction, round_faces[0].direction)) > ALIGNED
        or abs(face.radius - round_faces[0].radius) > FIT
        for face in round_faces[1:]
    ):
        return CutOutKind.FREE, 0.0
    normals = [face.direction for face in planes]
    if round_faces:
        first = round_faces[0]
        feet = {tuple(np.round(f.point - (f.point @ first.direction) * first.direction, 2)) for f in round_faces}
        if len(feet) == 1 and not planes:
            return CutOutKind.ROUND, 2.0 * first.radius
        if len(feet) == 2 and len(_ways(normals)) == 1:
            return CutOutKind.SLOT, 2.0 * first.radius
        return CutOutKind.FREE, 0.0
    ways = _ways(normals)
    if len(planes) >= 4 and len(ways) == 2 and abs(ways[0] @ ways[1]) < ALIGNED:
        return CutOutKind.RECTANGLE, 0.0
    return CutOutKind.FREE, 0.0


def _ways(normals: Sequence[np.ndarray]) -> list[np.ndarray]:
    kept: list[np.ndarray] = []
    for normal in normals:
        if not any(np.linalg.norm(np.cross(normal, known)) < ALIGNED for known in kept):
            kept.append(normal)
    return kept
