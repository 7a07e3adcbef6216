"""Nests as files hold them, with values changed by chance: refused at their place, or taken and checked without a fault
of ours. TEST_TIMES=20 tries twenty times as many.
"""

import copy
import json
import os
import random

import pytest

from nesting.errors import BadRecord
from nesting.model.nest import BarLayout, BarNest, Piece, Placement, SheetLayout, SheetNest, Unplaced
from nesting.model.stock import Sheet
from nesting.records.nests import nest_from_record, nest_to_record
from nesting.verify.bar_check import check_bars
from nesting.verify.sheet_check import check_sheets
from tests.shop_parts import L_REMNANT, bar_job, flange, frame, link, sheet_job

SEEDS = 400 * int(os.environ.get("TEST_TIMES", "1"))

NASTY = (
    *(0, -1, 1, 1e12, -1e12, 1e300, 1e-300, 10**400, 0.1, 360, 2**31, True, False, None, "", "plate", "\x00", "\ud800"),
    *([], {}, [[]], [[0, 0]], [[0, 0], [1e12, 0], [0, 1e12]], [[0, 0, 1e12], [9, 0, 1e12]], [[0, 0, 1], [0, 0, 1]]),
)


def sheet_nest():
    job = sheet_job(
        (flange("flange", 120.0, 60.0), 2),
        (link("link", 100.0, 20.0), 1),
        (frame("frame", 200.0, 150.0, 20.0), 2),
        stock=[Sheet.rectangle("plate", 1000.0, 500.0, 3), Sheet("rest", L_REMNANT, 1, is_remnant=True)],
    )
    first = (Placement("flange", 80.0, 80.0), Placement("link", 300.0, 40.0, 90.0), Placement("frame", 400.0, 20.0))
    second = (Placement("frame", 220.0, 170.0, 180.0), Placement("flange", 100.0, 250.0))
    return SheetNest(job, (SheetLayout("plate", first), SheetLayout("rest", second)), (Unplaced("link", 0, "none"),))


def bar_nest():
    job = bar_job((1000.0, 2), (500.0, 1), stock=[(6000.0, 2)], gap=5.0, dead_end=100.0, lead_end=10.0)
    pieces = (Piece("piece 0", 10.0), Piece("piece 0", 1015.0), Piece("piece 1", 2020.0, flipped=True))
    return BarNest(job, (BarLayout("bar 0", pieces),))


def places(value, path=()):
    """The path of everything in a record."""
    rows = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in rows:
        yield (*path, key)
        yield from places(inner, (*path, key))


def spoilt(record, seed):
    chance = random.Random(seed)
    record = json.loads(json.dumps(record))
    for _ in range(chance.choice((1, 1, 2, 5))):
        *way, last = chance.choice(list(places(record)))
        inner = record
        for key in way:
            inner = inner[key]
        what = chance.random()
        if what < 0.15:
            del inner[last]
        elif what < 0.25 and isinstance(inner, list):
            inner.append(inner[last])
        elif what < 0.5 and isinstance(inner[last], int | float):
            inner[last] *= chance.choice((-1, 1e-9, 1e3, 1e6, 1.0001))
        else:
            inner[last] = copy.deepcopy(chance.choice(NASTY))
    return record


@pytest.mark.parametrize("make", [sheet_nest, bar_nest])
def test_a_spoilt_nest_is_refused_at_its_place_or_checked(make):
    record = nest_to_record(make())
    assert nest_from_record(record) == make()
    outcomes = set()
    # 724: a hole of next to no size made the library divide by nothing.
    for seed in (724, *range(SEEDS)):
        try:
            nest = nest_from_record(spoilt(record, seed))
        except BadRecord as refused:
            sentence = str(refused)
            outcomes.add("refused")
            assert sentence.startswith("nest"), (seed, sentence)
            assert sentence.endswith("."), (seed, sentence)
            continue
        found = check_sheets(nest) if isinstance(nest, SheetNest) else check_bars(nest)
        outcomes.add("faulty" if found else "good")
        assert all(finding.message.endswith(".") and "\n" not in finding.message for finding in found), seed
    assert outcomes == {"refused", "faulty", "good"}
