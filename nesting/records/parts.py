"""Records of shapes, sections, parts, findings and readings. A little over 300 lines, because each of them holds the
one before it, and all are checked in the same way.
"""

from collections.abc import Mapping
from typing import Literal, cast

from nesting.errors import BadRecord
from nesting.geometry.contour import Contour, Path, Vertex
from nesting.model.findings import Finding, Severity
from nesting.model.part import Part, SheetPart, TubePart
from nesting.model.plane_end import ends_cross, plane_end
from nesting.model.reading import Reading
from nesting.model.section import SOLID, Section, SectionShape
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind
from nesting.records.values import (
    VERSION,
    Record,
    as_list,
    as_object,
    built,
    flag,
    number,
    optional_number,
    shown,
    text,
    whole_number,
)
from nesting.units import LARGEST_COORDINATE, Mm

FURTHEST: Mm = 4.0 * LARGEST_COORDINATE
"""A part is moved to the origin when it is read, and may then reach twice as far as its drawing did."""


def path_to_record(path: Path) -> list[list[float]]:
    """[[x, y] or [x, y, bulge], ...] in millimetres."""
    return [[x, y, bulge] if bulge else [x, y] for x, y, bulge in path.vertices]


def _vertices(value: object, where: str) -> tuple[Vertex, ...]:
    out: list[Vertex] = []
    for i, vertex in enumerate(as_list(value, where)):
        here = f"{where}[{i}]"
        numbers = as_list(vertex, here)
        if len(numbers) not in (2, 3):
            raise BadRecord(f"{here}: [x, y] or [x, y, bulge] is needed, not {shown(vertex)}.")
        values = {"x": numbers[0], "y": numbers[1], "bulge": numbers[2] if len(numbers) == 3 else 0.0}
        out.append((number(values, "x", here), number(values, "y", here), number(values, "bulge", here)))
    return tuple(out)


def _within_reach[S: Path](shape: S, where: str) -> S:
    """The shape, refused where it reaches further than any sheet: chords of such arcs would fill the memory."""
    bounds = shape.bounds
    # Asked this way round, a number that overflowed is refused too.
    if not max(map(abs, (bounds.left, bounds.bottom, bounds.right, bounds.top))) <= FURTHEST:
        raise BadRecord(f"{where}: it reaches further than {FURTHEST / 1e6:g} km from the origin.")
    return shape


def path_from_record(value: object, where: str = "path") -> Path:
    return _within_reach(built(where, lambda: Path(_vertices(value, where))), where)


def contour_from_record(value: object, where: str = "contour") -> Contour:
    """A ring; a last vertex that repeats the first is taken as the same one."""
    vertices = _vertices(value, where)
    if len(vertices) > 2 and vertices[0][:2] == vertices[-1][:2]:
        vertices = vertices[:-1]
    return _within_reach(built(where, lambda: Contour(vertices)), where)


def section_to_record(section: Section) -> Record:
    """`diameter_mm` for round tube and bar, else `height_mm` and `width_mm`; `inner_radius_mm` only where it is not the
    outer corner radius less the wall; of flange, root and toe only what the section has.
    """
    record: Record = {"shape": section.shape.value}
    if section.shape in _BY_DIAMETER:
        record["diameter_mm"] = section.height
    else:
        record |= {"height_mm": section.height, "width_mm": section.width}
    record |= {"wall_mm": section.wall, "corner_radius_mm": section.corner_radius}
    if section.inner_corner is not None:
        record["inner_radius_mm"] = section.inner_corner
    rest = {"flange_mm": section.flange, "root_radius_mm": section.root_radius, "toe_radius_mm": section.toe_radius}
    return record | {key: value for key, value in rest.items() if value}


_BY_DIAMETER = frozenset({SectionShape.ROUND, SectionShape.ROUND_BAR})


def section_from_record(value: object, where: str = "section") -> Section:
    """The wall of solid bar may be left out."""
    record = as_object(value, where)
    named = text(record, "shape", where)
    if named not in set(SectionShape):
        raise BadRecord(f"{where}.shape: one of {', '.join(SectionShape)} is needed, not {shown(named)}.")
    shape = SectionShape(named)
    height = number(record, "diameter_mm" if shape in _BY_DIAMETER else "height_mm", where)
    width = height if shape in _BY_DIAMETER else number(record, "width_mm", where)
    wall = number(record, "wall_mm", where, width if shape in SOLID else None)
    inner = None if shape is SectionShape.ROUND else optional_number(record, "inner_radius_mm", where)
    radius, *rest = (
        number(record, key, where, 0.0)
        for key in ("corner_radius_mm", "flange_mm", "root_radius_mm", "toe_radius_mm")
    )  # fmt: skip
    if shape in _EITHER_ORDER and height < width:
        height, width = width, height
    if shape in (SectionShape.SQUARE, SectionShape.RECTANGULAR) and (height == width) != (shape == SectionShape.SQUARE):
        other = SectionShape.SQUARE if height == width else SectionShape.RECTANGULAR
        raise BadRecord(f"{where}.shape: {height:g} x {width:g} mm is {other}, not {shape}.")
    return built(where, lambda: Section(shape, height, width, wall, radius, inner, *rest))


_EITHER_ORDER = frozenset(
    {SectionShape.SQUARE, SectionShape.RECTANGULAR, SectionShape.OVAL, SectionShape.ANGLE, SectionShape.FLAT_BAR}
)


def part_to_record(part: Part) -> Record:
    """The shape of a part without its count."""
    if isinstance(part, SheetPart):
        record: Record = {"name": part.name, "outer": path_to_record(part.outer)}
        record["holes"] = [path_to_record(hole) for hole in part.holes]
        if part.marks:
            record["marks"] = [path_to_record(mark) for mark in part.marks]
        return record
    record = {"name": part.name, "length_mm": part.length, "section": section_to_record(part.section)}
    record |= {"hole_count": part.hole_count, "cut_length_mm": part.cut_length, "square_ends": part.square_ends}
    if part.metal_volume is not None:
        record["metal_volume_mm3"] = part.metal_volume
    if part.ends is not None:
        record["ends"] = [end_cut_to_record(end) for end in part.ends]
    if part.cut_outs:
        record["cut_outs"] = [cut_out_to_record(cut) for cut in part.cut_outs]
    return record


def end_cut_to_record(cut: EndCut) -> Record:
    measures = {key: getattr(cut, name) for key, name in _END_MEASURES.items()}
    return {"kind": cut.kind.value} | measures | {"path": path_to_record(cut.path)}


_END_MEASURES = {
    "angle_deg": "angle",
    "towards_deg": "towards",
    "diameter_mm": "diameter",
    "offset_mm": "offset",
    "bevel_deg": "bevel",
}


def _end_cut_from_record(value: object, where: str, section: Section, length: Mm, *, at_start: bool) -> EndCut:
    """A square or mitred end may be told by its angle alone, without its contour."""
    record = as_object(value, where)
    kind = text(record, "kind", where)
    if kind not in set(EndKind):
        raise BadRecord(f"{where}.kind: one of {', '.join(EndKind)} is needed, not {shown(kind)}.")
    measures = {name: number(record, key, where, 0.0) for key, name in _END_MEASURES.items()}
    if "path" not in record and kind in (EndKind.SQUARE, EndKind.MITRE):
        if section is UNSTATED_SECTION:
            raise BadRecord(f"{where}: a part whose ends are told by their angle needs its section.")
        angle = measures["angle"]
        if (kind == EndKind.MITRE) != (angle != 0.0):
            raise BadRecord(f"{where}.angle_deg: a mitre leans by more than 0 and a square end by 0, not {angle:g}.")
        return built(where, lambda: plane_end(section, length, angle, measures["towards"], at_start=at_start))
    path = path_from_record(record.get("path"), f"{where}.path")
    return built(where, lambda: EndCut(EndKind(kind), path, **measures))


def cut_out_to_record(cut: CutOut) -> Record:
    measures = {key: getattr(cut, name) for key, name in _CUT_MEASURES.items()}
    contours = [path_to_record(contour) for contour in cut.contours]
    return {"kind": cut.kind.value, "face": cut.face} | measures | {"contours": contours}


_CUT_MEASURES = {
    "x_mm": "x",
    "s_mm": "s",
    "offset_mm": "offset",
    "towards_deg": "towards",
    "length_mm": "length",
    "width_mm": "width",
    "diameter_mm": "diameter",
    "bevel_deg": "bevel",
}


def _cut_out_from_record(value: object, where: str) -> CutOut:
    record = as_object(value, where)
    kind, face = text(record, "kind", where), text(record, "face", where)
    if kind not in set(CutOutKind):
        raise BadRecord(f"{where}.kind: one of {', '.join(CutOutKind)} is needed, not {shown(kind)}.")
    rows = as_list(record.get("contours"), f"{where}.contours")
    contours = tuple(contour_from_record(row, f"{where}.contours[{i}]") for i, row in enumerate(rows))
    measures = {name: number(record, key, where) for key, name in _CUT_MEASURES.items()}
    return built(where, lambda: CutOut(CutOutKind(kind), face, contours=contours, **measures))


UNSTATED_SECTION = Section.box(1.0, 1.0, 0.1, 0.0)
"""Stands in a hand-written bar job whose parts give only lengths: the layout of bars never looks at the section."""


def part_from_record(value: object, where: str = "part") -> Part:
    """A sheet part where the record has `outer`, else a tube part."""
    record = as_object(value, where)
    return sheet_part_from_record(record, where) if "outer" in record else tube_part_from_record(record, where)


def sheet_part_from_record(value: object, where: str = "part") -> SheetPart:
    record = as_object(value, where)
    name = text(record, "name", where)
    outer = contour_from_record(record.get("outer"), f"{where}.outer")
    holes = as_list(record.get("holes", []), f"{where}.holes")
    marks = as_list(record.get("marks", []), f"{where}.marks")
    return built(
        where,
        lambda: SheetPart(
            name,
            outer,
            tuple(contour_from_record(hole, f"{where}.holes[{i}]") for i, hole in enumerate(holes)),
            tuple(path_from_record(mark, f"{where}.marks[{i}]") for i, mark in enumerate(marks)),
        ),
    )


def tube_part_from_record(value: object, where: str = "part") -> TubePart:
    record = as_object(value, where)
    section = section_from_record(record["section"], f"{where}.section") if "section" in record else UNSTATED_SECTION
    length = number(record, "length_mm", where)
    ends = _ends_from_record(record.get("ends"), f"{where}.ends", section, length) if length > 0 else None
    square = ends is None or all(end.kind is EndKind.SQUARE for end in ends)
    return built(
        where,
        lambda: TubePart(
            text(record, "name", where),
            section,
            length,
            whole_number(record, "hole_count", where) if "hole_count" in record else 0,
            number(record, "cut_length_mm", where, 0.0),
            flag(record, "square_ends", where, default=square),
            optional_number(record, "metal_volume_mm3", where),
            ends,
            tuple(
                _cut_out_from_record(row, f"{where}.cut_outs[{i}]")
                for i, row in enumerate(as_list(record.get("cut_outs", []), f"{where}.cut_outs"))
            ),
        ),
    )


def _ends_from_record(value: object, where: str, section: Section, length: Mm) -> tuple[EndCut, EndCut] | None:
    if value is None:
        return None
    rows = as_list(value, where)
    if len(rows) != 2:
        raise BadRecord(f"{where}: a cut at the start and one at the end are needed, not {len(rows)}.")
    start = _end_cut_from_record(rows[0], f"{where}[0]", section, length, at_start=True)
    end = _end_cut_from_record(rows[1], f"{where}[1]", section, length, at_start=False)
    if any(isinstance(row, Mapping) and "path" not in row for row in rows) and ends_cross((start, end)):
        raise BadRecord(f"{where}: the ends cross, so {length:g} mm are too short for these mitres.")
    return start, end


def finding_to_record(finding: Finding) -> Record:
    at = None if finding.at is None else [finding.at[0], finding.at[1]]
    return {"code": finding.code, "severity": finding.severity.value, "message": finding.message, "at": at}


def finding_from_record(value: object, where: str = "finding") -> Finding:
    record = as_object(value, where)
    at = record.get("at")
    place = None if at is None else path_from_record([at, at], f"{where}.at").vertices[0][:2]
    severity = text(record, "severity", where)
    if severity not in set(Severity):
        raise BadRecord(f"{where}.severity: one of {', '.join(Severity)} is needed, not {shown(severity)}.")
    return Finding(text(record, "code", where), Severity(severity), text(record, "message", where), place)


def reading_to_record(reading: Reading) -> Record:
    return {
        "version": VERSION,
        "kind": reading.kind,
        "unit": reading.unit,
        "parts": [part_to_record(part) for part in reading.parts],
        "counts": list(reading.counts),
        "findings": [finding_to_record(finding) for finding in reading.findings],
        "sketch": [path_to_record(path) for path in reading.sketch],
    }


def reading_from_record(value: object, where: str = "reading") -> Reading:
    record = as_object(value, where)
    rows = as_list(record.get("parts"), f"{where}.parts")
    found = as_list(record.get("findings"), f"{where}.findings")
    lines = as_list(record.get("sketch", []), f"{where}.sketch")
    parts = [part_from_record(row, f"{where}.parts[{i}]") for i, row in enumerate(rows)]
    findings = [finding_from_record(row, f"{where}.findings[{i}]") for i, row in enumerate(found)]
    sketch = [path_from_record(line, f"{where}.sketch[{i}]") for i, line in enumerate(lines)]
    counts = as_list(record.get("counts", []), f"{where}.counts")
    if not all(type(count) is int for count in counts):
        raise BadRecord(f"{where}.counts: whole numbers are needed, not {shown(counts)}.")
    kind = text(record, "kind", where)
    if kind not in ("sheet", "tube", "refused"):
        raise BadRecord(f"{where}.kind: sheet, tube or refused is needed, not {shown(kind)}.")
    return built(
        where,
        lambda: Reading(
            cast(Literal["sheet", "tube", "refused"], kind),
            cast("tuple[SheetPart, ...] | tuple[TubePart, ...]", tuple(parts)),
            tuple(findings),
            tuple(sketch),
            text(record, "unit", where, ""),
            tuple(cast("list[int]", counts)),
        ),
    )
