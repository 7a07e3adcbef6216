"""The steps joined into the few calls that the server and the command line make. No geometry here. A little over 300
lines, because all that is called from outside stands in this one place, each call with its shapes and errors.

Importing this module is cheap: it knows the nouns, and each call imports the step it needs. Files are read in a child
process, because strangers made them; solvers start child processes of their own. Whatever a file or a solver does, the
caller gets a noun or one of `nesting.errors`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePath

from nesting.errors import BadRecord, ChildFailed, OutOfMemory, OutOfTime
from nesting.geometry.contour import Contour
from nesting.model.bound import StockBound
from nesting.model.findings import Finding, Severity
from nesting.model.nest import BarNest, Job, Nest, SheetJob, SheetLayout, SheetNest
from nesting.model.part import Part
from nesting.model.reading import Reading
from nesting.records.parts import reading_from_record
from nesting.sandbox import Limits, run_in_child
from nesting.units import JOIN, Mm, Seconds

DXF_ENDINGS = frozenset({".dxf"})
STEP_ENDINGS = frozenset({".step", ".stp", ".p21"})

LARGEST_FILE = 50 * 2**20
"""Bytes. Part files are far below a megabyte; what is larger is refused before a byte of it is read."""

DXF_LIMITS = Limits(wall=60.0, cpu=60.0, memory_mb=2048)
"""A usual drawing takes half a second and 200 MB; the largest that the reader lets in took 15 to 40 s."""


def read_drawing(path: Path, name: str = "", *, unit: str = "", join: Mm = JOIN) -> Reading:
    """What was understood of a part file; `name` is what the sender called it, the file's own name if left out.

    The ending of the name says how it is to be read, in any case of letters; without a known ending its first bytes
    do. `unit` and `join` are a person's answers for a drawing and mean nothing for a model. Nothing in the file makes
    this raise.

    Raises:
        BadValue: a unit that is not known, or a join out of bounds.
    """
    name = (name or path.name).encode(errors="replace").decode()
    fault = _why_not_opened(path, name)
    if fault is not None:
        return Reading("refused", findings=(fault,))
    ending = PurePath(name).suffix.casefold()
    if ending not in DXF_ENDINGS | STEP_ENDINGS:
        ending = _ending_by_content(path)
    if ending in STEP_ENDINGS:
        from nesting.tube.step_reader import read_step

        return read_step(path, name)
    if ending in DXF_ENDINGS:
        return _read_dxf(path, name, unit, join)
    message = f"{name} is neither a DXF drawing nor a STEP model. Save the part as DXF (sheet) or STEP (tube)."
    return Reading("refused", findings=(_refusal("not-a-part-file", message),))


def why_refused(reading: Reading, name: str) -> list[str]:
    """The sentences of the findings that keep the file from being used, each of which names the file."""
    blocking = (finding.message for finding in reading.findings if finding.blocks)
    return [message if name in message else f"{name}: {message}" for message in blocking]


def _why_not_opened(path: Path, name: str) -> Finding | None:
    """Why the file cannot be read at all, seen before it is opened; None where it can."""
    try:
        str(path).encode()
        if path.is_dir():
            return _refusal("file-missing", f"{name} is a folder. Name one file in it.")
        if not path.is_file():
            return _refusal("file-missing", f"{name} is not there, or is no file. Check its name and folder.")
        size = path.stat().st_size
        with path.open("rb"):
            pass
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "its name holds letters that cannot be passed on"
        return _refusal("file-unreadable", f"{name} could not be opened ({reason}). Rename it or upload it again.")
    if size == 0:
        return _refusal("file-empty", f"{name} is empty. Save it again and upload the new file.")
    if size > LARGEST_FILE:
        return _refusal(
            "file-too-large",
            f"{name} has {size / 2**20:.0f} MB; up to {LARGEST_FILE // 2**20} MB are read. Save the part alone.",
        )
    return None


def _ending_by_content(path: Path) -> str:
    """The ending that a file's first bytes would earn it, or "" where they earn none."""
    with path.open("rb") as file:
        head = file.read(4096).lstrip(b"\xef\xbb\xbf \t\r\n\x00")
    if head.startswith(b"ISO-10303-21"):
        return ".step"
    lines = [line.strip() for line in head.splitlines()]
    is_dxf = head.startswith(b"AutoCAD Binary DXF") or (b"0" in lines and b"SECTION" in lines)
    return ".dxf" if is_dxf else ""


def _read_dxf(path: Path, name: str, unit: str, join: Mm) -> Reading:
    request = {"path": str(path.absolute()), "name": name, "unit": unit, "join_mm": join}
    try:
        return reading_from_record(run_in_child("nesting.drawing.dxf_reader:read_record", request, DXF_LIMITS))
    except OutOfTime:
        code, why = "too-slow", f"was not read within {DXF_LIMITS.wall:g} s. Delete what is not to be cut"
    except OutOfMemory:
        code, why = "too-much-memory", f"needs more than {DXF_LIMITS.memory_mb} MB. Delete what is not to be cut"
    except (ChildFailed, BadRecord) as failure:
        code, why = "file-damaged", f"could not be read ({str(failure).rstrip('.')}). Save it as DXF once more"
    return Reading("refused", findings=(_refusal(code, f"{name} {why} and upload it again."),))


def _refusal(code: str, message: str) -> Finding:
    return Finding(code, Severity.REFUSAL, message)


def lay_out(
    job: Job,
    *,
    budget: Seconds,
    seed: int = 0,
    on_progress: Callable[[Nest], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Nest:
    """The best nest found within the budget that passes its check; what could not be laid stands in `unplaced`.

    `on_progress` gets every better nest, checked too. `should_stop` is asked often and from several threads.

    Raises:
        BadValue: a budget out of bounds.
        Cancelled: `should_stop` said so before there was any nest.
    """
    from nesting.layout.deadline import Deadline, nobody_stops

    deadline = Deadline(budget, seed, should_stop or nobody_stops)

    def report(nest: Nest) -> None:
        if on_progress is not None:
            on_progress(nest)

    if isinstance(job, SheetJob):
        from nesting.layout.sheet_layout import lay_out_sheets
        from nesting.verify.sheet_check import check_sheets

        return lay_out_sheets(job, deadline, report, check_sheets)
    from nesting.layout.bar_layout import lay_out_bars
    from nesting.verify.bar_check import check_bars

    return lay_out_bars(job, deadline, report, check_bars)


def lay_out_around(
    job: SheetJob,
    fixed: Sequence[SheetLayout],
    *,
    budget: Seconds,
    seed: int = 0,
    on_progress: Callable[[Nest], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Nest:
    """As `lay_out`, with the `fixed` layouts' pieces left where they are and counted as laid; the rest is laid on what
    is free of their sheets and on further ones. The answer is not checked as a whole: that is the caller's to do.

    Raises:
        BadValue: a budget out of bounds, or fixed pieces of parts or on stock that the job does not have.
        Cancelled: `should_stop` said so before there was any nest.
    """
    from nesting.layout.free_room import job_around, nest_with_fixed
    from nesting.layout.sides import without_sides

    around = job_around(without_sides(job), fixed)

    def whole(nest: Nest) -> Nest:
        assert isinstance(nest, SheetNest)  # noqa: S101 - a sheet job has a sheet nest
        return nest_with_fixed(job, fixed, around, nest)

    def report(nest: Nest) -> None:
        if on_progress is not None:
            on_progress(whole(nest))

    nest = whole(lay_out(around.job, budget=budget, seed=seed, on_progress=report, should_stop=should_stop))
    return replace(nest, bound=bound_of(job))


def bound_of(job: Job) -> StockBound | None:
    """What no nest of the job can do without; None where that is not known."""
    if isinstance(job, SheetJob):
        from nesting.layout.sheet_bound import bound_of_job

        return bound_of_job(job)
    return None


def left_to_win(nest: Nest) -> float | None:
    """The share of the stock it uses that a nest of the same job could save at most; None where that is not known."""
    if isinstance(nest, SheetNest):
        from nesting.layout import sheet_bound

        return sheet_bound.left_to_win(nest)
    from nesting.layout import bar_bound

    return bar_bound.left_to_win(nest)


def check_nest(nest: Nest) -> tuple[Finding, ...]:
    """The faults of a nest, found from the nouns alone; none means that it may be cut."""
    if isinstance(nest, SheetNest):
        from nesting.verify.sheet_check import check_sheets

        return check_sheets(nest)
    from nesting.verify.bar_check import check_bars

    return check_bars(nest)


def yield_of(nest: Nest, index: int) -> float:
    """The share of the sheet or bar at `index` from 0 that becomes parts."""
    if isinstance(nest, SheetNest):
        return SheetNest(nest.job, (nest.layouts[index],)).yield_share
    return BarNest(nest.job, (nest.layouts[index],)).yield_share


def remnant_of(nest: Nest, index: int) -> tuple[Mm, Mm | None] | None:
    """Length along x and width along y (None for bar) of what the layout at `index` from 0 leaves to keep, or None.

    Raises:
        BadValue: there is no such layout, or it names stock or parts that the job does not have.
    """
    if isinstance(nest, BarNest):
        length = _bar_remnant(nest, index)
        return None if length is None else (length, None)
    outline = _sheet_remnant(nest, index)
    return None if outline is None else (outline.bounds.width, outline.bounds.height)


def sheet_cut_file(nest: SheetNest, index: int) -> bytes:
    """The sheet at `index` from 0 as DXF.

    Raises:
        BadValue: there is no such sheet, or it names stock or parts that the job does not have.
    """
    from nesting.export.dxf_writer import sheet_dxf

    return sheet_dxf(nest, index)


def sheet_piece_list(nest: SheetNest, index: int) -> str:
    """The pieces of the sheet at `index` from 0 as CSV."""
    from nesting.export.cut_list import sheet_list

    return sheet_list(nest, index)


def bar_cut_file(nest: BarNest, index: int) -> bytes | None:
    """The bar at `index` from 0 laid flat as DXF; None where the end cuts of a piece are not known."""
    from nesting.export.dxf_bar import bar_dxf

    names = {piece.part for piece in nest.layouts[index].pieces}
    known = all(demand.part.ends is not None for demand in nest.job.demands if demand.part.name in names)
    return bar_dxf(nest, index) if names and known else None


def bar_cut_list(nest: BarNest, index: int) -> str:
    """The cuts of the bar at `index` from 0 as CSV."""
    from nesting.export.cut_list import bar_list

    return bar_list(nest, index, _bar_remnant(nest, index))


def bar_cut_list_pdf(
    nest: BarNest, index: int, *, title: str = "", of: str = "", orders: Mapping[int, str] | None = None
) -> bytes:
    """The cuts of the bar at `index` from 0 on paper: what stands on top, what the bar is, each piece's order."""
    from nesting.export.cut_list_pdf import bar_list_pdf

    return bar_list_pdf(nest, index, _bar_remnant(nest, index), title=title, of=of, orders=orders)


def sheet_picture(nest: SheetNest, index: int) -> str:
    """The sheet at `index` from 0 as SVG, with its remnant."""
    from nesting.export.svg_sheet import sheet_svg

    return sheet_svg(nest, index, _sheet_remnant(nest, index))


def bar_picture(nest: BarNest, index: int) -> str:
    """The bar at `index` from 0 as SVG, with its remnant."""
    from nesting.export.svg_bar import bar_svg

    return bar_svg(nest, index, _bar_remnant(nest, index))


def part_picture(part: Part) -> str:
    """The part with its overall measures as SVG."""
    from nesting.export.svg_part import part_svg

    return part_svg(part)


def part_pictures(part: Part, findings: Sequence[Finding] = ()) -> dict[str, Callable[[], str]]:
    """Every picture of the part as SVG by its name, drawn when called for; those of tube have its findings on them."""
    from nesting.export.svg_part import part_svgs

    return part_svgs(part, findings)


def reading_picture(reading: Reading) -> str:
    """The file as it was read, findings marked, as SVG; "" where there is nothing to show."""
    from nesting.export.svg_reading import reading_svg

    return reading_svg(reading)


def _sheet_remnant(nest: SheetNest, index: int) -> Contour | None:
    from nesting.export.pieces import pieces_on_sheet
    from nesting.layout.remnant import sheet_remnant

    pieces_on_sheet(nest, index)  # refuses what the remnant's finder takes for granted
    return sheet_remnant(nest, index)


def _bar_remnant(nest: BarNest, index: int) -> Mm | None:
    from nesting.export.pieces import pieces_on_bar
    from nesting.layout.remnant import bar_remnant

    pieces_on_bar(nest, index)
    return bar_remnant(nest, index)
