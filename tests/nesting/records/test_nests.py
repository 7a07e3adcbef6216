import copy
import json

import pytest
from hypothesis import given, settings

from nesting.errors import BadRecord
from nesting.records.nests import nest_from_record, nest_to_record
from tests.strategies import bar_nests, sheet_nests


def through_json(record):
    """The record as a file or a database gives it back."""
    return json.loads(json.dumps(record, allow_nan=False))


@given(sheet_nests())
@settings(max_examples=40)
def test_a_sheet_nest_comes_back(nest):
    assert nest_from_record(through_json(nest_to_record(nest))) == nest


@given(bar_nests())
@settings(max_examples=40)
def test_a_bar_nest_comes_back(nest):
    assert nest_from_record(through_json(nest_to_record(nest))) == nest


SHEET_NEST = {
    "kind": "sheet",
    "stock": [{"name": "s", "width_mm": 500, "height_mm": 300}],
    "rules": {},
    "parts": [{"name": "plate", "count": 1, "outer": [[0, 0], [100, 0], [100, 50], [0, 50]]}],
    "sheets": [{"stock": "s", "copies": 2, "placements": [{"part": "plate", "x_mm": 10, "y_mm": 10}]}],
}
BAR_NEST = {
    "kind": "bar",
    "stock": [{"name": "6 m", "length_mm": 6000}],
    "rules": {},
    "parts": [{"name": "post", "count": 1, "length_mm": 1200}],
    "bars": [{"stock": "6 m", "pieces": [{"part": "post", "start_mm": 0}]}],
}


def test_what_a_nest_leaves_out_takes_its_default():
    nest = nest_from_record(SHEET_NEST)
    placement = nest.layouts[0].placements[0]
    assert (placement.turn, placement.mirrored) == (0.0, False)
    assert (nest.unplaced, nest.proven_optimal, nest.seed, nest.seconds) == ((), False, 0, 0.0)
    assert nest_from_record(BAR_NEST).layouts[0].copies == 1


def test_a_nest_that_names_what_its_job_does_not_have_can_be_read_for_the_checker():
    record = copy.deepcopy(SHEET_NEST)
    record["sheets"][0]["stock"] = "lost"
    assert nest_from_record(record).layouts[0].stock == "lost"


@pytest.mark.parametrize(
    ("base", "path", "value", "sentence"),
    [
        (SHEET_NEST, ["sheets"], None, r"^nest\.sheets: a list is needed, but it is missing"),
        (SHEET_NEST, ["sheets", 0], 1, r"^nest\.sheets\[0\]: an object is needed, not 1"),
        (SHEET_NEST, ["sheets", 0, "stock"], 1, r"^nest\.sheets\[0\]\.stock: a text is needed, not 1"),
        (SHEET_NEST, ["sheets", 0, "copies"], 0, r"^nest\.sheets\[0\]\.copies: 1 or more is needed, not 0"),
        (SHEET_NEST, ["sheets", 0, "copies"], "2", r"^nest\.sheets\[0\]\.copies: a whole number is needed"),
        (SHEET_NEST, ["sheets", 0, "placements"], {}, r"^nest\.sheets\[0\]\.placements: a list is needed"),
        (SHEET_NEST, ["sheets", 0, "placements", 0], [], r"^nest\.sheets\[0\]\.placements\[0\]: an object is needed"),
        (SHEET_NEST, ["sheets", 0, "placements", 0, "x_mm"], "1", r"placements\[0\]\.x_mm: a number is needed"),
        (SHEET_NEST, ["sheets", 0, "placements", 0, "part"], None, r"placements\[0\]\.part: a text is needed"),
        (SHEET_NEST, ["sheets", 0, "placements", 0, "turn_deg"], 1e99, r"placements\[0\]\.turn_deg: a number from"),
        (SHEET_NEST, ["sheets", 0, "placements", 0, "mirrored"], 1, r"placements\[0\]\.mirrored: true or false"),
        (SHEET_NEST, ["unplaced"], {}, r"^nest\.unplaced: a list is needed"),
        (SHEET_NEST, ["unplaced"], [{"part": "plate"}], r"^nest\.unplaced\[0\]\.count: a whole number is needed"),
        (SHEET_NEST, ["proven_optimal"], "yes", r"^nest\.proven_optimal: true or false is needed"),
        (SHEET_NEST, ["seed"], 0.5, r"^nest\.seed: a whole number is needed"),
        (SHEET_NEST, ["seconds"], "12", r"^nest\.seconds: a number is needed"),
        (SHEET_NEST, ["bound"], 3, r"^nest\.bound: an object is needed, not 3"),
        (SHEET_NEST, ["bound"], {"cost": 1, "count": 1, "last_mm": 5}, r"^nest\.bound\.taken: a number is needed"),
        (
            SHEET_NEST,
            ["bound"],
            {"cost": -1, "count": 1, "last_mm": 5, "taken": 1},
            r"^nest\.bound: StockBound: cost must be 0 to 1e\+12",
        ),
        (SHEET_NEST, ["parts", 0, "outer"], 5, r"^nest\.parts\[0\]\.outer: a list is needed"),
        (BAR_NEST, ["bars"], None, r"^nest\.bars: a list is needed, but it is missing"),
        (BAR_NEST, ["bars", 0, "pieces"], None, r"^nest\.bars\[0\]\.pieces: a list is needed"),
        (BAR_NEST, ["bars", 0, "pieces", 0, "start_mm"], None, r"^nest\.bars\[0\]\.pieces\[0\]\.start_mm: a number"),
        (BAR_NEST, ["bars", 0, "pieces", 0, "turn_deg"], "90", r"^nest\.bars\[0\]\.pieces\[0\]\.turn_deg: a number is"),
        (BAR_NEST, ["bars", 0, "pieces", 0, "flipped"], 0, r"^nest\.bars\[0\]\.pieces\[0\]\.flipped: true or false"),
    ],
)
def test_a_malformed_nest_is_refused_at_its_place(base, path, value, sentence):
    record = copy.deepcopy(base)
    inner = record
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    with pytest.raises(BadRecord, match=sentence):
        nest_from_record(record)
