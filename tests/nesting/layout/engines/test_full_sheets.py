"""Full sheets one by one: every nest that the engine reports passes our checker, and all parts are on it."""

from collections import Counter
from contextlib import suppress
from dataclasses import replace

import pytest

from nesting.layout.engine import sheets_from_record
from nesting.layout.engines.full_sheets import solve_record
from nesting.layout.score import Extents, score_sheets
from nesting.model.nest import SheetNest
from nesting.model.stock import Sheet
from nesting.records.jobs import job_to_record
from nesting.verify.sheet_check import check_sheets
from tests.shop_parts import L_REMNANT, frame, gusset, plate, rectangle, sheet_job, square, triangle

pytestmark = pytest.mark.slow

PATIENCE = 120.0

MANY = sheet_job(
    (plate("plate", 180.0, 120.0), 14),
    (gusset("gusset", 180.0, 180.0), 12),
    (frame("window", 300.0, 250.0, 35.0), 4),
    (triangle("corner", 90.0, 90.0), 16),
)


class Enough(Exception):
    """Ends a run from within its report, so that no test waits for a budget that slow machines need."""


def run(job, *, enough, seconds=PATIENCE):
    reports = []

    def report(record):
        reports.append(sheets_from_record(record))
        if len(reports) >= enough:
            raise Enough

    request = {"job": job_to_record(job), "seconds": seconds, "seed": 1, "extra_gap_mm": 0.01}
    with suppress(Enough):
        solve_record(request, report)
    return reports


def assert_complete_and_right(job, layouts):
    assert check_sheets(SheetNest(job, layouts)) == ()
    found = Counter()
    for layout in layouts:
        for p in layout.placements:
            found[p.part] += layout.copies
    assert found == {demand.part.name: demand.count for demand in job.demands}


@pytest.mark.parametrize(
    ("job", "enough"),
    [
        (MANY, 2),
        (sheet_job((rectangle("a", 210.0, 130.0), 40), (triangle("t", 120.0, 90.0), 12)), 2),
        (sheet_job((rectangle("a", 310.0, 170.0), 3)), 1),
    ],
    ids=["windows", "no windows", "one sheet"],
)
def test_each_report_is_right_and_better_than_the_one_before(job, enough):
    reports = run(job, enough=enough)
    assert reports
    extents = Extents(job)
    best = None
    for layouts in reports:
        score = score_sheets(SheetNest(job, layouts), extents)
        assert score.is_better_than(best)
        best = score
    assert_complete_and_right(job, reports[-1])


def test_without_the_packing_librarys_nest_sheets_are_laid_one_by_one(monkeypatch):
    """Windows filled, one full sheet by the strip library, the rest in rows: that is the first report."""
    monkeypatch.setattr("nesting.layout.engines.full_sheets.ALL_AT_ONCE", "nesting.layout.engines.rows:no_such_call")
    reports = run(MANY, enough=1)
    assert reports
    assert_complete_and_right(MANY, reports[-1])


def test_without_a_strip_library_the_packing_librarys_nest_stands(monkeypatch):
    monkeypatch.setattr("nesting.layout.engines.full_sheets.STRIPS", "nesting.layout.engines.strips:no_such_call")
    job = sheet_job((square("a", 100.0), 5))
    assert_complete_and_right(job, run(job, enough=1)[-1])


@pytest.mark.usefixtures("fake_engines")
def test_solvers_that_crash_are_no_reason_to_crash(monkeypatch):
    for name in ("STRIPS", "WINDOWS", "ALL_AT_ONCE"):
        monkeypatch.setattr(f"nesting.layout.engines.full_sheets.{name}", "fake_engines:panic")
    assert run(MANY, enough=1) == []


@pytest.mark.usefixtures("fake_engines")
def test_solvers_that_answer_nonsense_are_passed_over(monkeypatch):
    for name in ("STRIPS", "WINDOWS", "ALL_AT_ONCE"):
        monkeypatch.setattr(f"nesting.layout.engines.full_sheets.{name}", "fake_engines:nonsense")
    assert run(MANY, enough=1) == []


L_SHEET = Sheet("L", L_REMNANT, 2, 1.0, is_remnant=True)


def test_a_cheap_sheet_of_odd_outline_is_laid_beside_full_ones():
    stock = (Sheet.rectangle("plain", 1000.0, 500.0), L_SHEET)
    job = sheet_job((square("a", 110.0), 60), (triangle("t", 90.0, 90.0), 20), stock=stock)
    reports = run(job, enough=10**9, seconds=5.0)
    best = reports[-1]
    assert_complete_and_right(job, best)
    used = Counter()
    for layout in best:
        used[layout.stock] += layout.copies
    assert used["L"] == 2


def test_a_dear_sheet_of_odd_outline_is_left():
    dear = replace(L_SHEET, cost=10.0 * L_SHEET.outline.area)
    job = sheet_job((square("a", 110.0), 40), stock=(Sheet.rectangle("plain", 1000.0, 500.0), dear))
    reports = run(job, enough=10**9, seconds=3.0)
    assert reports
    assert {layout.stock for layout in reports[-1]} == {"plain"}


def first_full_sheet(job, monkeypatch):
    """The first nest of full sheets and rows, without the packing library's."""
    monkeypatch.setattr("nesting.layout.engines.full_sheets.ALL_AT_ONCE", "nesting.layout.engines.rows:no_such_call")
    layouts = run(job, enough=1)[-1]
    assert_complete_and_right(job, layouts)
    return layouts[0]


PLENTY = sheet_job((rectangle("a", 210.0, 130.0), 40), (triangle("t", 120.0, 90.0), 80))
"""About three sheets."""


def test_of_three_sheets_two_are_alike(monkeypatch):
    assert first_full_sheet(PLENTY, monkeypatch).copies == 2


def test_single_parts_of_many_kinds_are_not_kept_for_sheets_alike(monkeypatch):
    job = sheet_job(*((rectangle(f"a{i}", 200.0 + i, 130.0), 1) for i in range(48)))
    sheet = first_full_sheet(job, monkeypatch)
    assert sheet.copies == 1
    assert len(sheet.placements) > 10
