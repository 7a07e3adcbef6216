import copy
import json

import pytest
from hypothesis import given, settings

from nesting.errors import BadRecord
from nesting.model.nest import BarRules, SheetRules
from nesting.records.jobs import (
    bar_from_record,
    bar_to_record,
    job_from_record,
    job_to_record,
    sheet_from_record,
    sheet_to_record,
)
from tests.strategies import bar_jobs, bars, sheet_jobs, sheets


def through_json(record):
    """The record as a file or a database gives it back."""
    return json.loads(json.dumps(record, allow_nan=False))


@given(sheets())
def test_a_sheet_comes_back(sheet):
    assert sheet_from_record(through_json(sheet_to_record(sheet))) == sheet


@given(bars())
def test_a_bar_comes_back(bar):
    assert bar_from_record(through_json(bar_to_record(bar))) == bar


@given(sheet_jobs())
@settings(max_examples=40)
def test_a_sheet_job_comes_back(job):
    assert job_from_record(through_json(job_to_record(job))) == job


@given(bar_jobs())
@settings(max_examples=40)
def test_a_bar_job_comes_back(job):
    assert job_from_record(through_json(job_to_record(job))) == job


SHEET_JOB = {
    "kind": "sheet",
    "stock": [{"name": "2500x1250", "width_mm": 2500, "height_mm": 1250, "count": 10}],
    "rules": {"gap_mm": 5, "margin_mm": 10, "turns_deg": [0, 90], "mirror": True},
    "parts": [{"name": "plate", "count": 4, "outer": [[0, 0], [100, 0], [100, 50], [0, 50]]}],
}
BAR_JOB = {
    "kind": "bar",
    "stock": [{"name": "6 m", "length_mm": 6000, "count": None}],
    "rules": {"gap_mm": 5, "dead_end_mm": 300, "lead_end_mm": 10},
    "parts": [{"name": "post", "count": 8, "length_mm": 1234.5}],
}


def changed(job, path, value):
    """The job with the value at the path changed; the value ... takes it away."""
    job = copy.deepcopy(job)
    inner = job
    for step in path[:-1]:
        inner = inner[step]
    if value is ...:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return job


def test_rules_left_out_take_their_defaults():
    assert job_from_record(changed(SHEET_JOB, ["rules"], ...)).rules == SheetRules()
    assert job_from_record(changed(BAR_JOB, ["rules"], ...)).rules == BarRules()


def test_a_count_left_out_means_as_many_as_needed():
    assert job_from_record(changed(SHEET_JOB, ["stock", 0, "count"], ...)).stock[0].count is None


def test_turns_of_a_part_stand_before_those_of_the_rules():
    job = job_from_record(changed(SHEET_JOB, ["parts", 0, "turns_deg"], "any"))
    assert job.turns_of(job.demands[0]) == "any"


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (["kind"], ..., r"^job\.kind: a text is needed, but it is missing"),
        (["kind"], "plate", r'^job\.kind: "sheet" or "bar" is needed, not \'plate\''),
        (["stock"], ..., r"^job\.stock: a list is needed, but it is missing"),
        (["stock", 0], "sheet", r"^job\.stock\[0\]: an object is needed, not 'sheet'"),
        (["stock", 0, "name"], ..., r"^job\.stock\[0\]\.name: a text is needed"),
        (["stock", 0, "name"], "", r"^job\.stock\[0\]: Sheet: the name is empty"),
        (["stock", 0, "width_mm"], ..., r"^job\.stock\[0\]\.width_mm: a number is needed, but it is missing"),
        (["stock", 0, "width_mm"], 0, r"^job\.stock\[0\]: Sheet 2500x1250: width and height must be above 0"),
        (["stock", 0, "height_mm"], -1, r"^job\.stock\[0\]: Sheet 2500x1250: width and height must be above 0"),
        (["stock", 0, "count"], -1, r"^job\.stock\[0\]: Sheet 2500x1250: the count cannot be negative"),
        (["stock", 0, "count"], 1.5, r"^job\.stock\[0\]\.count: a whole number is needed"),
        (["stock", 0, "cost"], -1, r"^job\.stock\[0\]: Sheet 2500x1250: the cost must be 0 or more"),
        (["stock", 0, "outline"], [[0, 0], [9, 9]], r"^job\.stock\[0\]\.outline: Contour: the ring encloses no area"),
        (["rules"], [5], r"^job\.rules: an object is needed, not \[5\]"),
        (["rules", "gap_mm"], "5", r"^job\.rules\.gap_mm: a number is needed, not '5'"),
        (["rules", "gap_mm"], -1, r"^job\.rules: Sheet rules: gap must be 0 or more, not -1"),
        (["rules", "margin_mm"], -1, r"^job\.rules: Sheet rules: margin must be 0 or more, not -1"),
        (["rule"], {"gap_mm": 3}, r"^job: 'rule' is not known here; known are kind, stock, rules, parts"),
        (["stock", 0, "qty"], 3, r"^job\.stock\[0\]: 'qty' is not known here; known are name, width_mm"),
        (["parts", 0, "turns"], [0], r"^job\.parts\[0\]: 'turns' is not known here; known are name, count, turns_deg"),
        (["rules", "gap"], 3, r"^job\.rules: 'gap' is not known here; known are gap_mm, margin_mm, turns_deg, mirror"),
        (["rules", "turns_deg"], [], r"^job\.rules\.turns_deg: at least one turn"),
        (["rules", "turns_deg"], "all", r"^job\.rules\.turns_deg: a list is needed, not 'all'"),
        (["rules", "turns_deg"], [0, "90"], r"^job\.rules\.turns_deg\[1\]\.turn: a number is needed, not '90'"),
        (["rules", "mirror"], 1, r"^job\.rules\.mirror: true or false is needed, not 1"),
        (["rules", "sides_mm"], 60, r"^job\.rules\.sides_mm: an object is needed, not 60"),
        (
            ["rules", "sides_mm"],
            {"front": 60},
            r"^job\.rules\.sides_mm: 'front' is not known here; known are left, bot",
        ),
        (["rules", "sides_mm"], {"left": -1}, r"^job\.rules: Sides kept free: left must be 0 or more, not -1"),
        (["rules", "most_kinds"], 0, r"^job\.rules: Sheet rules: most_kinds must be 1 or more, not 0"),
        (["rules", "together"], "yes", r"^job\.rules\.together: true or false is needed, not 'yes'"),
        (["parts", 0, "due"], "1st of May", r"^job\.parts\[0\]\.due: a date such as 2026-12-01 is needed, not '1st of"),
        (["parts", 0, "kit"], 5, r"^job\.parts\[0\]\.kit: a text is needed, not 5"),
        (
            ["parts", 0, "fill_up_to"],
            3,
            r"^job\.parts\[0\]: Demand for plate: the number to fill up to must be 4, which",
        ),
        (["parts"], {}, r"^job\.parts: a list is needed, not \{\}"),
        (["parts", 0], 7, r"^job\.parts\[0\]: an object is needed, not 7"),
        (["parts", 0, "count"], ..., r"^job\.parts\[0\]\.count: a whole number is needed, but it is missing"),
        (["parts", 0, "count"], -1, r"^job\.parts\[0\]: Demand for plate: the count must be 0 to 1000000, not -1"),
        (["parts", 0, "count"], 10**9, r"^job\.parts\[0\]: Demand for plate: the count must be 0 to 1000000"),
        (["parts", 0, "turns_deg"], [], r"^job\.parts\[0\]\.turns_deg: at least one turn"),
        (["parts", 0, "outer"], ..., r"^job\.parts\[0\]\.outer: a list is needed, but it is missing"),
        (["parts", 0, "outer", 2], [1], r"^job\.parts\[0\]\.outer\[2\]: \[x, y\] or"),
        (["parts"], SHEET_JOB["parts"] * 2, r"^job: Job parts: the name 'plate' is used twice"),
        (["stock"], SHEET_JOB["stock"] * 2, r"^job: Job stock: the name '2500x1250' is used twice"),
    ],
)
def test_a_malformed_sheet_job_is_refused_at_its_place(path, value, sentence):
    with pytest.raises(BadRecord, match=sentence):
        job_from_record(changed(SHEET_JOB, path, value))


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (["stock", 0, "length_mm"], ..., r"^job\.stock\[0\]\.length_mm: a number is needed"),
        (["stock", 0, "length_mm"], 0, r"^job\.stock\[0\]: Bar 6 m: the length must be above 0, not 0"),
        (["stock", 0, "count"], True, r"^job\.stock\[0\]\.count: a whole number is needed"),
        (["rules", "dead_end_mm"], -1, r"^job\.rules: Bar rules: dead_end must be 0 or more, not -1"),
        (["rules", "lead_end_mm"], None, r"^job\.rules\.lead_end_mm: a number is needed, but it is missing"),
        (["rules", "margin_mm"], 10, r"^job\.rules: 'margin_mm' is not known here"),
        (["stock", 0, "width_mm"], 10, r"^job\.stock\[0\]: 'width_mm' is not known here"),
        (["parts", 0, "turns_deg"], [0], r"^job\.parts\[0\]: 'turns_deg' is not known here"),
        (["parts", 0, "length_mm"], -5, r"^job\.parts\[0\]: TubePart: the length must be above 0"),
        (["parts", 0, "count"], "8", r"^job\.parts\[0\]\.count: a whole number is needed, not '8'"),
        (
            ["rules", "order"],
            "by name",
            r"^job\.rules\.order: one of any, longest first, longest last is needed, not 'by",
        ),
        (["rules", "turns_deg"], [], r'^job\.rules\.turns_deg: at least one turn, or "any", is needed'),
        (["rules", "flip"], 1, r"^job\.rules\.flip: true or false is needed, not 1"),
        (["rules", "shared_cut_mm"], 6, r"^job\.rules: Bar rules: a shared cut of 6 mm exceeds the gap of 5 mm"),
        (["rules", "shared_cut_mm"], -1, r"^job\.rules: Bar rules: shared_cut must be 0 or more, not -1"),
        (["parts"], BAR_JOB["parts"] * 2, r"^job: Job parts: the name 'post' is used twice"),
    ],
)
def test_a_malformed_bar_job_is_refused_at_its_place(path, value, sentence):
    with pytest.raises(BadRecord, match=sentence):
        job_from_record(changed(BAR_JOB, path, value))


@pytest.mark.parametrize("value", [None, [], "job", 5])
def test_a_job_that_is_no_object_is_refused(value):
    with pytest.raises(BadRecord, match=r"^job: an object is needed"):
        job_from_record(value)
