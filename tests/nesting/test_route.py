import shutil
import subprocess
import sys
import zipfile

import pytest

from nesting import route
from nesting.errors import BadValue, Cancelled, ChildFailed, OutOfMemory, OutOfTime
from nesting.geometry.contour import Contour
from nesting.model.findings import Severity
from nesting.model.nest import BarJob, BarNest, BarRules, Placement, SheetLayout, SheetNest
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from nesting.records.jobs import job_from_record

SQUARE = [[0, 0], [60, 0], [60, 60], [0, 60]]


def sheet_job(*parts):
    return {"kind": "sheet", "stock": [{"name": "s", "width_mm": 1000, "height_mm": 500}], "parts": list(parts)}


def refusal(reading):
    """The one finding of a refused reading."""
    assert reading.kind == "refused"
    (finding,) = reading.findings
    assert finding.severity is Severity.REFUSAL
    return finding


@pytest.mark.slow
def test_a_drawing_is_read(files):
    reading = route.read_drawing(files / "plate.dxf")
    assert (reading.kind, reading.unit) == ("sheet", "mm")
    (part,) = reading.parts
    assert (part.name, part.bounds.width, part.bounds.height) == ("plate", 200, 100)
    assert (part.pierce_count, len(part.marks)) == (2, 1)


@pytest.mark.slow
def test_a_model_is_read(files):
    (part,) = route.read_drawing(files / "post.step").parts
    assert part.section == Section.box(40, 40, 3, 6)
    assert part.length == pytest.approx(1000.0)
    # Source: EN 10219-2, 40 x 40 x 3: 3.30 kg/m; less the hole: 11 mm across, 3 mm thick.
    assert part.mass(7850.0) == pytest.approx(3.30, abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("ending", [".DXF", ".Dxf"])
def test_the_ending_of_a_drawing_is_known_in_any_case(files, tmp_path, ending):
    shutil.copy(files / "plate.dxf", tmp_path / f"plate{ending}")
    assert route.read_drawing(tmp_path / f"plate{ending}").kind == "sheet"


@pytest.mark.slow
@pytest.mark.parametrize("ending", [".STEP", ".stp", ".P21"])
def test_the_endings_of_a_model_are_known_in_any_case(files, tmp_path, ending):
    shutil.copy(files / "post.step", tmp_path / f"post{ending}")
    assert route.read_drawing(tmp_path / f"post{ending}").kind == "tube"


@pytest.mark.slow
def test_the_senders_name_stands_before_that_of_the_stored_file(files, tmp_path):
    shutil.copy(files / "plate.dxf", tmp_path / "3f8a77")
    reading = route.read_drawing(tmp_path / "3f8a77", "gate hinge.dxf")
    assert reading.parts[0].name == "gate hinge"


@pytest.mark.slow
def test_a_file_without_a_known_ending_is_read_by_its_content(files, tmp_path):
    shutil.copy(files / "plate.dxf", tmp_path / "plate.txt")
    shutil.copy(files / "post.step", tmp_path / "post")
    assert route.read_drawing(tmp_path / "plate.txt").kind == "sheet"
    assert route.read_drawing(tmp_path / "post").kind == "tube"


@pytest.mark.slow
def test_a_model_that_is_named_as_a_drawing_is_refused_and_says_so(files, tmp_path):
    shutil.copy(files / "post.step", tmp_path / "post.dxf")
    message = refusal(route.read_drawing(tmp_path / "post.dxf")).message
    assert message.startswith("post.dxf is a STEP model, not a DXF drawing.")


def test_a_drawing_that_is_named_as_a_model_is_refused_and_says_so(files, tmp_path):
    shutil.copy(files / "plate.dxf", tmp_path / "plate.step")
    message = refusal(route.read_drawing(tmp_path / "plate.step")).message
    assert "plate.step is not a STEP file: it looks like a DXF drawing" in message


@pytest.mark.slow
def test_a_drawing_without_a_unit_is_a_question_that_can_be_answered(files):
    reading = route.read_drawing(files / "unitless.dxf")
    assert reading.kind == "refused"
    assert [f.severity for f in reading.findings if f.blocks] == [Severity.QUESTION]
    answered = route.read_drawing(files / "unitless.dxf", unit="inch")
    assert answered.parts[0].bounds.width == pytest.approx(200 * 25.4)


@pytest.mark.slow
def test_a_unit_or_a_joining_distance_that_cannot_be_is_our_fault_and_raised(files):
    with pytest.raises(BadValue, match="furlong"):
        route.read_drawing(files / "plate.dxf", unit="furlong")
    with pytest.raises(BadValue, match=r"joined over 0 to 0\.1 mm, not over"):
        route.read_drawing(files / "plate.dxf", join=0.5)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    assert refusal(route.read_drawing(tmp_path / "lost.dxf")).message.startswith("lost.dxf is not there")
    assert refusal(route.read_drawing(tmp_path)).code == "file-missing"


def test_a_name_that_no_system_can_open_is_refused(tmp_path):
    assert refusal(route.read_drawing(tmp_path / "a\x00.dxf")).code in ("file-missing", "file-unreadable")
    assert "cannot be passed on" in refusal(route.read_drawing(tmp_path / "\udc80.dxf")).message


@pytest.mark.parametrize("ending", ["dxf", "step", ""])
def test_an_empty_file_is_refused(tmp_path, ending):
    path = tmp_path / f"part.{ending}"
    path.write_bytes(b"")
    assert refusal(route.read_drawing(path)).code == "file-empty"


@pytest.mark.parametrize("ending", ["dxf", "step", "bin"])
def test_a_huge_file_is_refused_before_it_is_read(tmp_path, ending):
    path = tmp_path / f"hall.{ending}"
    with path.open("wb") as file:
        file.truncate(route.LARGEST_FILE + 1)
    found = refusal(route.read_drawing(path))
    assert (found.code, "50 MB" in found.message) == ("file-too-large", True)


def test_a_file_of_another_kind_is_refused(tmp_path):
    (tmp_path / "note.txt").write_text("Four hinges by Friday, please.")
    message = refusal(route.read_drawing(tmp_path / "note.txt")).message
    assert message == "note.txt is neither a DXF drawing nor a STEP model. Save the part as DXF (sheet) or STEP (tube)."


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["dxf", "step"])
def test_an_archive_is_refused_by_its_kind(tmp_path, ending):
    path = tmp_path / f"parts.{ending}"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb", b"0" * 10_000_000)
    assert "zip archive" in refusal(route.read_drawing(path)).message


@pytest.mark.slow
def test_an_open_outline_is_refused_at_its_place(files):
    reading = route.read_drawing(files / "open.dxf")
    assert reading.kind == "refused"
    assert any(finding.at is not None for finding in reading.findings if finding.blocks)
    assert "data-finding" in route.reading_picture(reading)


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (OutOfTime("It was not done within 60 s."), "too-slow"),
        (OutOfMemory("It needed more than 2048 MB of memory."), "too-much-memory"),
        (ChildFailed("It crashed (SIGSEGV) and gave no answer."), "file-damaged"),
    ],
)
def test_whatever_ends_the_reader_becomes_a_finding_that_names_the_file(files, monkeypatch, fault, code):
    def fail(*_arguments):
        raise fault

    monkeypatch.setattr(route, "run_in_child", fail)
    found = refusal(route.read_drawing(files / "plate.dxf"))
    assert found.code == code
    assert found.message.startswith("plate.dxf ")


def test_an_answer_that_is_no_reading_becomes_a_finding(files, monkeypatch):
    monkeypatch.setattr(route, "run_in_child", lambda *_arguments: {"kind": "sheet"})
    assert refusal(route.read_drawing(files / "plate.dxf")).code == "file-damaged"


def test_pictures_of_parts_are_drawn_by_their_kind():
    assert "part-picture" in route.part_picture(SheetPart("plate", Contour.rectangle(10, 5)))
    assert "tube-picture" in route.part_picture(TubePart("post", Section.round(48.3, 3.2), 900.0))


HEAVY = ("ezdxf", "OCP", "packingsolver", "spyrrow", "shapely", "pyclipper", "numpy", "django")


def test_importing_the_route_brings_no_heavy_library_with_it():
    script = f"import sys, nesting.route; print([name for name in {HEAVY} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"


@pytest.fixture(scope="module")
def nests():
    """A sheet nest and a bar nest, laid in a second each."""
    sheet = job_from_record(
        sheet_job({"name": "square", "outer": SQUARE, "count": 5}, {"name": "disc", "outer": DISC, "count": 3})
    )
    bar = job_from_record(
        {
            "kind": "bar",
            "stock": [{"name": "6 m", "length_mm": 6000}],
            "rules": {"gap_mm": 5, "dead_end_mm": 300},
            "parts": [{"name": "post", "count": 3, "length_mm": 1234.5}],
        }
    )
    return route.lay_out(sheet, budget=1.0, seed=1), route.lay_out(bar, budget=1.0)


DISC = [[30, 0, 1], [-30, 0, 1]]


@pytest.mark.slow
def test_a_job_is_laid_and_passes_its_check(nests):
    for nest, wanted in zip(nests, (8, 3), strict=True):
        assert route.check_nest(nest) == ()
        assert (nest.placed_count, nest.unplaced) == (wanted, ())


@pytest.mark.slow
def test_every_better_nest_is_reported_and_passes_its_check():
    job = job_from_record(sheet_job({"name": "disc", "outer": DISC, "count": 40}))
    reported = []
    best = route.lay_out(job, budget=2.0, seed=3, on_progress=reported.append)
    assert reported
    assert all(route.check_nest(nest) == () for nest in reported)
    assert best.placed_count == reported[-1].placed_count == 40


@pytest.mark.slow
def test_a_layout_can_be_stopped_and_keeps_what_it_has():
    reported = []
    job = job_from_record(sheet_job({"name": "disc", "outer": DISC, "count": 200}))
    nest = route.lay_out(job, budget=60.0, on_progress=reported.append, should_stop=lambda: bool(reported))
    assert nest.cut_short
    assert nest.placed_count > 0


def test_a_layout_that_is_stopped_at_once_is_cancelled():
    for job in (
        sheet_job({"name": "disc", "outer": DISC, "count": 2}),
        {"kind": "bar", "stock": [], "parts": [{"name": "post", "count": 3, "length_mm": 5}]},
    ):
        with pytest.raises(Cancelled):
            route.lay_out(job_from_record(job), budget=5.0, should_stop=lambda: True)


@pytest.mark.parametrize("budget", [0.0, -1.0, float("nan"), 1e9])
def test_a_budget_that_cannot_be_is_our_fault_and_raised(budget):
    with pytest.raises(BadValue, match="budget"):
        route.lay_out(job_from_record(sheet_job()), budget=budget)


@pytest.mark.slow
def test_what_fits_nowhere_is_left_out_with_its_reason():
    job = job_from_record(
        {
            "kind": "bar",
            "stock": [{"name": "6 m", "length_mm": 6000, "count": 1}, {"name": "none", "length_mm": 9000, "count": 0}],
            "parts": [
                {"name": "mast", "count": 1, "length_mm": 7000},
                {"name": "post", "count": 3, "length_mm": 2500},
            ],
        }
    )
    nest = route.lay_out(job, budget=1.0)
    assert route.check_nest(nest) == ()
    left = {unplaced.part: unplaced for unplaced in nest.unplaced}
    assert (left["mast"].count, left["post"].count) == (1, 1)
    assert all(unplaced.reason for unplaced in nest.unplaced)


@pytest.mark.slow
def test_a_sheet_is_written_and_reads_back_as_its_parts(nests, tmp_path):
    sheet_nest, _ = nests
    (tmp_path / "sheet-01.dxf").write_bytes(route.sheet_cut_file(sheet_nest, 0))
    reading = route.read_drawing(tmp_path / "sheet-01.dxf")
    wanted = [d.part.area for d in sheet_nest.job.demands for _ in range(d.count)]
    assert sorted(part.area for part in reading.parts) == pytest.approx(sorted(wanted))


@pytest.mark.slow
def test_pictures_and_lists_are_of_the_nest(nests):
    sheet_nest, bar_nest = nests
    assert route.sheet_picture(sheet_nest, 0).count('class="piece') == 8
    assert route.bar_picture(bar_nest, 0).count('class="piece') == 3
    assert route.sheet_piece_list(sheet_nest, 0).count("\r\n") == 9
    assert "remnant,,," in route.bar_cut_list(bar_nest, 0)


@pytest.mark.slow
def test_what_is_left_of_a_bar_is_its_length_less_pieces_and_gaps(nests):
    _, bar_nest = nests
    # Source: by hand, 6000 - 3 x (1234.5 + 5); what the chuck holds is part of it.
    assert route.remnant_of(bar_nest, 0) == (pytest.approx(2281.5), None)
    assert route.yield_of(bar_nest, 0) == pytest.approx(3 * 1234.5 / 6000)
    assert 'data-remnant="2281.5"' in route.bar_picture(bar_nest, 0)


def test_what_is_left_of_a_sheet_lies_beside_its_parts():
    job = job_from_record(sheet_job({"name": "square", "outer": SQUARE, "count": 1}))
    nest = SheetNest(job, (SheetLayout("s", (Placement("square", 10, 10),)),))
    # Source: by hand, the square ends at 70, the gap of 5 follows: 1000 - 75 by 500.
    assert route.remnant_of(nest, 0) == (pytest.approx(925.0), pytest.approx(500.0))
    assert 'data-remnant="925 500"' in route.sheet_picture(nest, 0)
    assert route.yield_of(nest, 0) == pytest.approx(3600 / 500_000)


def test_a_sheet_or_bar_that_is_not_there_is_our_fault_and_raised():
    job = job_from_record(sheet_job({"name": "square", "outer": SQUARE, "count": 1}))
    strange = SheetNest(job, (SheetLayout("lost", ()),))
    for call in (route.remnant_of, route.sheet_picture, route.sheet_cut_file, route.sheet_piece_list):
        with pytest.raises(BadValue, match="cut from 'lost'"):
            call(strange, 0)
        with pytest.raises(BadValue, match="none numbered 2"):
            call(strange, 1)
    empty = BarNest(BarJob((), BarRules(), ()), ())
    for call in (route.remnant_of, route.bar_picture, route.bar_cut_list):
        with pytest.raises(BadValue, match="none numbered 1"):
            call(empty, 0)
