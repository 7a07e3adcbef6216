"""A DXF drawing to sheet parts: the one door to this folder.

The file is opened, its lines are gathered in millimetres, doubles are taken out, loose ends joined to rings, rings
checked against each other and sorted into parts. Whatever is mended, left out or wrong on the way is a finding; no
content of a file makes this raise.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

from ezdxf.document import Drawing

from nesting.drawing.blocks import Gathered, Line, gathered
from nesting.drawing.chaining import chained
from nesting.drawing.contour_faults import contour_faults, fault_findings
from nesting.drawing.dxf_file import opened
from nesting.drawing.layers import LayerRules
from nesting.drawing.left_out import (
    changed_lines,
    heights,
    hidden_entities,
    ignored_by_rule,
    ignored_entities,
    missing_blocks,
    model_space_is_empty,
    paper_space,
)
from nesting.drawing.open_ends import chain_findings
from nesting.drawing.overlaps import without_repeats
from nesting.drawing.part_finder import found_parts
from nesting.drawing.refusals import StopReading, note, refusal, shortened, warning
from nesting.drawing.spans import Span, vertices_of
from nesting.drawing.units_of_drawing import check_answer, unit_findings, unit_of
from nesting.drawing.wording import counted, place
from nesting.errors import BadValue
from nesting.geometry.contour import Bounds, Contour, Path
from nesting.model.findings import Finding, any_blocks
from nesting.model.reading import Reading, ReadingKind
from nesting.records.parts import reading_to_record
from nesting.records.values import number, text
from nesting.units import JOIN, JOIN_WIDE, Mm, Point

MOST_SKETCHED = 20_000
"""Paths in the sketch; more makes a picture that no browser shows in time."""


@dataclass(frozen=True)
class DxfOptions:
    """What a person has said about the file: `unit` (a key of `ANSWERS`, "" to go by the header), `join` (how far
    apart loose ends may be to be joined, 0 to `JOIN_WIDE`) and which layers are cut.

    Raises:
        BadValue: a unit that is not known, or a join outside its bounds.
    """

    unit: str = ""
    join: Mm = JOIN
    layers: LayerRules = field(default_factory=LayerRules)

    def __post_init__(self) -> None:
        check_answer(self.unit)
        if not 0.0 <= self.join <= JOIN_WIDE:
            raise BadValue(f"Loose ends can be joined over 0 to {JOIN_WIDE:g} mm, not over {self.join:g} mm.")


def read_dxf(path: FilePath, name: str, options: DxfOptions | None = None) -> Reading:
    """The parts in a DXF file, named after `name`, which is also what findings call the file.

    Never raises for what is in the file: a file that cannot be used gives a refused reading with the reason.
    """
    try:
        return _read(path, name, options or DxfOptions())
    except StopReading as stop:
        return Reading("refused", (), (stop.finding,))
    except MemoryError:
        message = f"{name} needs more memory to read than there is. Delete what is not to be cut and upload it again."
        return Reading("refused", (), (refusal("unreadable", message),))
    except Exception as fault:  # the outer edge: a stranger's file must not end the worker
        message = (
            f"{name} could not be read ({type(fault).__name__}). Open it in the program it was drawn with, save it as "
            "DXF and upload it again."
        )
        return Reading("refused", (), (refusal("unreadable", message),))


def read_record(request: Mapping[str, Any], _report: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    """`read_dxf` for a child process: {"path", "name", "unit", "join_mm"} to the record of a reading.

    Raises:
        BadRecord: a value of the request is missing or of the wrong kind.
        BadValue: the unit or the joining distance is not allowed.
    """
    options = DxfOptions(text(request, "unit", "request", ""), number(request, "join_mm", "request", JOIN))
    return reading_to_record(
        read_dxf(FilePath(text(request, "path", "request")), text(request, "name", "request"), options)
    )


@dataclass
class _Closed:
    """The rings of a drawing, and the lines that did not close."""

    rings: list[list[Span]]
    loose: list[list[Span]]
    findings: list[Finding]


def _read(path: FilePath, name: str, options: DxfOptions) -> Reading:
    file = opened(path, name)
    unit = unit_of(file.data, options.unit)
    lines = gathered(file.drawing, options.layers, unit.mm, name)
    findings = [*file.findings, *_gathering_findings(lines, file.drawing)]
    try:
        closed = _closed(lines.cut, options.join)
        findings += closed.findings
        marks = _marks(lines.mark, options.join)
        faults = contour_faults(closed.rings)
    except StopReading as stop:
        # What was gathered is still worth a picture: it shows where the crowd is.
        findings = shortened([stop.finding, *findings])
        sketch = [_as_path(line.spans) for line in lines.cut[:MOST_SKETCHED]]
        return Reading("refused", (), tuple(findings), tuple(sketch), unit.name)
    findings += fault_findings(faults, closed.rings)
    faulty = {index for fault in faults for index in (fault.one, fault.other)}
    contours = _contours([ring for index, ring in enumerate(closed.rings) if index not in faulty], findings)
    found = found_parts(contours, marks, name)
    parts = found.parts
    findings += found.findings
    if not parts and not any_blocks(findings):
        findings.append(model_space_is_empty(lines.not_lines, lines.by_rule, _paper_count(file.drawing)))
    sketch, sketch_findings = _sketch(closed)
    findings += sketch_findings
    findings = unit_findings(unit, _all_bounds(sketch), _largest(closed.rings)) + findings
    findings = shortened(findings)
    kind: ReadingKind = "refused" if any_blocks(findings) else "sheet"
    return Reading(kind, tuple(parts), tuple(findings), tuple(sketch), unit.name)


def _gathering_findings(lines: Gathered, drawing: Drawing) -> list[Finding]:
    return [
        *lines.findings,
        *missing_blocks(lines.missing_blocks),
        *hidden_entities(lines.hidden),
        *heights(lines.lowest, lines.highest),
        *ignored_by_rule(lines.by_rule),
        *ignored_entities(lines.not_lines),
        *paper_space(_paper_count(drawing)),
        *changed_lines(lines.zero_length, lines.fitted),
    ]


def _paper_count(drawing: Drawing) -> int:
    """Entities on the drawing sheets, without the windows that show model space."""
    sheets = (layout for layout in drawing.layouts if layout.is_any_paperspace)
    return sum(1 for sheet in sheets for entity in sheet if entity.dxftype() != "VIEWPORT")


def _closed(lines: list[Line], join: Mm) -> _Closed:
    """Doubles taken out and ends joined."""
    # A closed polyline that only goes there and back is no ring but a line drawn twice.
    lines = [line._replace(closed=False) if _is_there_and_back(line.spans) else line for line in lines]
    cleaned = without_repeats(lines)
    findings = _repeat_findings(cleaned.repeats)
    chains = chained(cleaned.loose, join)
    findings += chain_findings(chains, join)
    rings = [*(ring.spans for ring in cleaned.rings), *chains.rings]
    return _Closed(rings, [*chains.runs, *chains.branched], findings)


def _is_there_and_back(spans: list[Span]) -> bool:
    return len(spans) == 2 and spans[0].bulge == -spans[1].bulge


def _contours(rings: Sequence[list[Span]], findings: list[Finding]) -> list[Contour]:
    """The contours of rings that nothing crosses; tells of those that enclose nothing."""
    contours = []
    for ring in rings:
        try:
            contours.append(Contour(vertices_of(ring, closed=True)))
        except BadValue:
            at = ring[0].start
            message = f"The closed line at {place(at)} has no area. Delete it in the drawing and upload it again."
            findings.append(refusal("no-area", message, at))
    return contours


def _repeat_findings(repeats: list[Point]) -> list[Finding]:
    if not repeats:
        return []
    count = len(repeats)
    message = (
        f"{counted(count, 'line')} {'was' if count == 1 else 'were'} drawn twice and {'is' if count == 1 else 'are'} "
        f"cut once (the first at {place(repeats[0])})."
    )
    return [note("drawn-twice", message, repeats[0])]


def _marks(lines: list[Line], join: Mm) -> list[Path]:
    """Marking lines, joined where they meet; they may be open and may cross."""
    cleaned = without_repeats(lines)
    chains = chained(cleaned.loose, join)
    closed = [*(ring.spans for ring in cleaned.rings), *chains.rings]
    return [_as_path(spans) for spans in (*closed, *chains.runs, *chains.branched)]


def _as_path(spans: list[Span]) -> Path:
    """The spans as an open run; of a ring the last vertex repeats the first."""
    return Path(vertices_of(spans, closed=False))


def _sketch(closed: _Closed) -> tuple[list[Path], list[Finding]]:
    every = [*closed.rings, *closed.loose]
    findings = []
    if len(every) > MOST_SKETCHED:
        message = f"The picture shows {MOST_SKETCHED} of {len(every)} contours and lines; all of them were read."
        findings.append(warning("sketch-cut-short", message))
    return [_as_path(spans) for spans in every[:MOST_SKETCHED]], findings


def _all_bounds(paths: Sequence[Path]) -> Bounds | None:
    whole: Bounds | None = None
    for path in paths:
        whole = path.bounds if whole is None else whole.joined(path.bounds)
    return whole


def _largest(rings: Sequence[list[Span]]) -> Bounds | None:
    """The bounds of the ring that reaches furthest across."""
    every = (_as_path(ring).bounds for ring in rings)
    return max(every, key=lambda bounds: max(bounds.width, bounds.height), default=None)
