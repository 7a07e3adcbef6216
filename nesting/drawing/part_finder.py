"""Rings inside rings become parts: outer contours, their holes, and parts that lie in holes of others.

A ring that lies in an even count of other rings is an outer contour, in an odd count a hole of the smallest ring
around it. Marking lines go to the part on whose metal they lie. Works on rings that do not cross.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import PurePath

import numpy as np
import shapely

from nesting.drawing.near_pairs import MOST_PAIRS, too_crowded
from nesting.drawing.refusals import note, warning
from nesting.drawing.wording import measure, place, size
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed
from nesting.model.findings import Finding
from nesting.model.part import SheetPart
from nesting.units import TINY_FEATURE, Mm

EXACT_ENOUGH: Mm = 4e-4
"""Chord height of the polygons that decide what lies inside what: less than half of what counts as touching, so that
a ring that does not touch another is never taken to its wrong side."""

TABLE_PLACES = 2
"""Decimals by which parts are put in order from left to right: those drawn one above the other differ by rounding."""

SHEET_FRAMES = (
    *((210, 297), (297, 420), (420, 594), (594, 841), (841, 1189)),
    *((180, 277), (277, 390), (400, 564), (574, 811), (821, 1159)),
)
"""Trimmed sheets A4 to A0 and the frames inside them, in mm (ISO 216 and ISO 5457, from memory)."""


@dataclass
class FoundParts:
    """Parts from left to right and bottom to top, each shifted so that its lower left lies at (0, 0)."""

    parts: list[SheetPart] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def found_parts(rings: Sequence[Contour], marks: Sequence[Path], name: str) -> FoundParts:
    """The parts that rings and marks make; named after the file, numbered where there are several.

    Raises:
        StopReading: too many rings lie in each other.
    """
    found = FoundParts()
    kept = [ring for ring in rings if not _is_dirt(ring, found.findings)]
    around = _rings_around(kept)
    depth = [len(outside) for outside in around]
    outers = [i for i, d in enumerate(depth) if d % 2 == 0]
    holes: dict[int, list[Contour]] = {i: [] for i in outers}
    for i, outside in enumerate(around):
        if depth[i] % 2:
            # Rings that do not cross lie in a row inside each other, so exactly one is a step further out.
            parent = next((k for k in outside if depth[k] == depth[i] - 1), None)
            if parent is not None:
                holes[parent].append(kept[i])
    outers.sort(key=lambda i: (round(kept[i].bounds.left, TABLE_PLACES), kept[i].bounds.bottom))
    marks_of = _marks_by_part(outers, kept, holes, marks, found.findings)
    _tell_of_nesting(outers, kept, depth, found.findings)
    stem = PurePath(name).stem.strip() or "part"
    for number, i in enumerate(outers, start=1):
        bounds = kept[i].bounds
        found.parts.append(
            SheetPart(
                stem if len(outers) == 1 else f"{stem}-{number}",
                placed(kept[i], -bounds.left, -bounds.bottom),
                tuple(placed(hole, -bounds.left, -bounds.bottom) for hole in holes[i]),
                tuple(placed(mark, -bounds.left, -bounds.bottom) for mark in marks_of[i]),
            )
        )
    return found


def _is_dirt(ring: Contour, findings: list[Finding]) -> bool:
    """Whether the ring is too small to be anything; tells of it, and of one that is narrower than a kerf."""
    bounds = ring.bounds
    at = (bounds.left, bounds.bottom)
    if max(bounds.width, bounds.height) < TINY_FEATURE:
        largest = measure(max(bounds.width, bounds.height))
        message = f"A contour only {largest} large at {place(at)} was left out: it is smaller than any cut."
        findings.append(warning("tiny-contour", message, at))
        return True
    # Twice the width of a long slit, the diameter of a circle, the side of a square.
    across = 4.0 * ring.area / ring.length
    if across < TINY_FEATURE:
        message = (
            f"The contour of {size(bounds.width, bounds.height)} at {place(at)} is narrower than a cut. "
            "Draw a slit as one line on a mark layer, or delete it."
        )
        findings.append(warning("narrow-contour", message, at))
    return False


def _rings_around(rings: Sequence[Contour]) -> list[list[int]]:
    """For each ring the rings that it lies in."""
    around: list[list[int]] = [[] for _ in rings]
    if len(rings) < 2:
        return around
    extent = np.array([(r.bounds.left, r.bounds.bottom, r.bounds.right, r.bounds.top) for r in rings])
    starts = np.array([ring.vertices[0][:2] for ring in rings])
    tree = shapely.STRtree(np.asarray(shapely.points(starts)))
    seen = 0
    for i, ring in enumerate(rings):
        left, bottom, right, top = extent[i]
        candidates = tree.query(shapely.box(left, bottom, right, top))
        low, high = extent[candidates, :2], extent[candidates, 2:]
        inside = (low >= (left, bottom)).all(axis=1) & (high <= (right, top)).all(axis=1) & (candidates != i)
        candidates = candidates[inside]
        seen += len(candidates)
        if seen > MOST_PAIRS:
            raise too_crowded()
        if len(candidates):
            polygon = shapely.Polygon(ring.polygon(EXACT_ENOUGH))
            shapely.prepare(polygon)
            for j in candidates[shapely.contains_xy(polygon, starts[candidates, 0], starts[candidates, 1])]:
                around[int(j)].append(i)
    return around


def _marks_by_part(
    outers: list[int],
    rings: Sequence[Contour],
    holes: dict[int, list[Contour]],
    marks: Sequence[Path],
    findings: list[Finding],
) -> dict[int, list[Path]]:
    """The marks of each outer contour: those whose middle lies on its metal, else those that begin or end there."""
    marks_of: dict[int, list[Path]] = {i: [] for i in outers}
    if not marks or not outers:
        return marks_of
    chord = 0.01
    metal = [shapely.Polygon(rings[i].polygon(chord), [hole.polygon(chord) for hole in holes[i]]) for i in outers]
    tree = shapely.STRtree(metal)
    lost = []
    for mark in marks:
        points = mark.flattened(chord)
        line = shapely.LineString(points)
        probes = [line.interpolate(0.5, normalized=True), shapely.Point(points[0]), shapely.Point(points[-1])]
        hits = [tree.query(probe, predicate="intersects") for probe in probes]
        part = next((int(hit[0]) for hit in hits if len(hit)), None)
        if part is None:
            lost.append(mark)
        else:
            marks_of[outers[part]].append(mark)
    if lost:
        at = lost[0].vertices[0][:2]
        count = "1 marking line lies" if len(lost) == 1 else f"{len(lost)} marking lines lie"
        message = f"{count} on no part and {'was' if len(lost) == 1 else 'were'} left out (the first at {place(at)})."
        findings.append(warning("mark-outside", message, at))
    return marks_of


def _tell_of_nesting(outers: list[int], rings: Sequence[Contour], depth: list[int], findings: list[Finding]) -> None:
    """Tells of parts that lie in holes of others, and of a rectangle round everything that may be a drawing frame."""
    inner = [i for i in outers if depth[i] > 0]
    outermost = [i for i in outers if depth[i] == 0]
    if len(outermost) == 1 and len(rings) > 1 and _may_be_frame(rings[outermost[0]], has_parts=bool(inner)):
        bounds = rings[outermost[0]].bounds
        message = (
            f"Everything lies in one rectangle of {size(bounds.width, bounds.height)}, which is read as a part of its "
            'own. If it is a drawing frame, delete it or put it on a layer named "border" and upload it again.'
        )
        findings.append(warning("looks-like-frame", message, (bounds.left, bounds.bottom)))
    for i in inner:
        bounds = rings[i].bounds
        message = (
            f"A contour of {size(bounds.width, bounds.height)} at {place((bounds.left, bounds.bottom))} lies in a hole "
            "of another part. It is read as a part of its own."
        )
        findings.append(warning("part-inside-hole", message, (bounds.left, bounds.bottom)))
    if len(outers) > 1:
        findings.append(note("several-parts", f"The file holds {len(outers)} parts. Each gets its own count."))


def _may_be_frame(ring: Contour, *, has_parts: bool) -> bool:
    """Whether the ring round everything looks like the frame of a drawing sheet: an upright rectangle with whole
    parts in it, or of the size of a standard sheet.
    """
    bounds = ring.bounds
    if len(ring.vertices) != 4 or abs(ring.area - bounds.width * bounds.height) > 1e-6 * ring.area:
        return False
    short, long = sorted((bounds.width, bounds.height))
    return has_parts or any(abs(short - a) < 1.0 and abs(long - b) < 1.0 for a, b in SHEET_FRAMES)
