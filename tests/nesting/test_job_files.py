"""Jobs whose rows name part files."""

import pytest

from nesting import job_files
from nesting.errors import BadRecord
from nesting.job_files import job_with_files
from nesting.model.part import TubePart
from nesting.model.reading import Reading
from nesting.model.section import Section
from tests.nesting.test_route import SQUARE, sheet_job


@pytest.mark.slow
def test_a_part_of_a_job_may_come_from_a_file(files):
    job = job_with_files(sheet_job({"file": "plate.dxf", "count": 3, "turns_deg": [0]}), files)
    (demand,) = job.demands
    assert (demand.part.name, demand.count, demand.turns) == ("plate", 3, (0.0,))
    assert demand.part.bounds.width == 200


@pytest.mark.slow
def test_all_parts_of_a_file_are_taken_or_the_one_that_is_named(files):
    job = job_with_files(
        sheet_job(
            {"name": "pair", "file": "pair.dxf", "count": 2},
            {"name": "second", "file": "pair.dxf", "part": 2, "count": 5},
            {"name": "square", "outer": SQUARE, "count": 1},
        ),
        files,
    )
    found = {d.part.name: (d.part.bounds.width, d.count) for d in job.demands}
    assert found == {"pair-1": (50, 2), "pair-2": (80, 2), "second": (80, 5), "square": (60, 1)}


@pytest.mark.slow
def test_a_bar_job_takes_its_tubes_from_a_model(files):
    record = {
        "kind": "bar",
        "stock": [{"name": "6 m", "length_mm": 6000}],
        "parts": [{"file": "frame.step", "count": 2}],
    }
    job = job_with_files(record, files)
    assert sorted(round(d.part.length, 3) for d in job.demands) == [600.0, 1000.0]
    assert all(d.part.section == Section.box(40, 40, 3, 6) for d in job.demands)


def test_a_part_that_a_file_holds_several_times_is_needed_as_often(monkeypatch, tmp_path):
    section = Section.box(40, 40, 3, 6)
    parts = TubePart("leg", section, 600.0), TubePart("brace", section, 400.0)
    monkeypatch.setattr(job_files, "read_drawing", lambda *_, **__: Reading("tube", parts, counts=(4, 1)))
    record = {
        "kind": "bar",
        "stock": [{"name": "6 m", "length_mm": 6000}],
        "parts": [{"file": "frame.step", "count": 3}, {"file": "frame.step", "part": 1, "count": 5, "name": "spare"}],
    }
    job = job_with_files(record, tmp_path)
    assert {d.part.name: d.count for d in job.demands} == {"leg": 12, "spare": 5, "brace": 3}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"file": "lost.dxf", "count": 1}, r"^job\.parts\[1\]\.file: lost\.dxf is not there"),
        ({"file": "open.dxf", "count": 1}, r"^job\.parts\[1\]\.file: .*open"),
        ({"file": "unitless.dxf", "count": 1}, r"^job\.parts\[1\]\.file: .*unit"),
        ({"file": "plate.dxf", "unit": "furlong", "count": 1}, r"^job\.parts\[1\]: .*furlong"),
        ({"file": "post.step", "count": 1}, r"^job\.parts\[1\]\.file: post\.step holds tube, which is laid on bars"),
        ({"file": "pair.dxf", "part": 3, "count": 1}, r"^job\.parts\[1\]\.part: pair\.dxf holds 2 part\(s\)"),
        ({"file": "pair.dxf", "part": 0, "count": 1}, r"^job\.parts\[1\]\.part: pair\.dxf holds 2 part\(s\)"),
        ({"file": "pair.dxf", "part": "a", "count": 1}, r"^job\.parts\[1\]\.part: a whole number is needed"),
        ({"file": 7, "count": 1}, r"^job\.parts\[1\]\.file: a text is needed, not 7"),
        ({"file": "pair.dxf"}, r"^job\.parts\[1\]\.count: a whole number is needed"),
        ({"file": "pair.dxf", "count": -1}, r"^job\.parts\[1\]: Demand for pair-1: the count must be"),
        ({"file": "plate.dxf", "outer": SQUARE, "count": 1}, r"^job\.parts\[1\]: a part has its shape from a file or"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_at_its_place(files, row, sentence):
    with pytest.raises(BadRecord, match=sentence):
        job_with_files(sheet_job({"name": "square", "outer": SQUARE, "count": 1}, row), files)


@pytest.mark.slow
def test_parts_from_sheet_are_not_laid_on_bars(files):
    record = {"kind": "bar", "stock": [], "parts": [{"file": "plate.dxf", "count": 1}]}
    with pytest.raises(BadRecord, match=r"plate\.dxf holds parts from sheet, which are not laid on bars"):
        job_with_files(record, files)


def test_a_job_without_files_needs_no_folder(tmp_path):
    job = job_with_files(sheet_job({"name": "square", "outer": SQUARE, "count": 1}), tmp_path / "nowhere")
    assert job.demands[0].part.area == 3600


@pytest.mark.parametrize("record", [None, [], {"kind": "sheet"}, {"kind": "sheet", "parts": [5]}])
def test_a_job_that_is_none_is_refused(record, tmp_path):
    with pytest.raises(BadRecord, match=r"^job"):
        job_with_files(record, tmp_path)
