"""What is laid beside full sheets: odd sheets that are no dearer, and what a full one leaves open."""

import random
from collections import Counter
from dataclasses import replace

import pytest

from nesting.layout.composites import plain_pieces
from nesting.layout.deadline import Deadline
from nesting.layout.measures import Measures
from nesting.layout.score import Extents
from nesting.layout.sheet_fillers import MOST_ODD, SheetFillers
from nesting.layout.sheet_plan import FullSheet, SheetPlan
from nesting.model.nest import Placement, SheetLayout
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, sheet_job, square

A = "0"
"""Pieces are named by their place in the job."""

PLAIN = Sheet.rectangle("plain", 1000.0, 500.0)
ODD = Sheet("odd", L_REMNANT, 2, 1.0, is_remnant=True)
ROOM = 985.0 * 485.0


def fillers_for(*demands, stock=(PLAIN,), seconds=60.0):
    job = sheet_job(*demands, stock=stock)
    pieces = plain_pieces(job)
    measures, plan = Measures(pieces, job, 5.0, 10.0), SheetPlan(pieces.job, Extents(pieces.job))
    return SheetFillers(measures, plan, random.Random(1), Deadline(seconds)), plan


def following(fillers, *, fill=0.85):
    return fillers.next(fill)


def full(plan, count, bulk):
    layout = SheetLayout("plain", tuple(Placement(A, 10.0 + 105.0 * i, 10.0) for i in range(count)))
    sheet = FullSheet(layout, bulk, bulk)
    plan.take(sheet)
    return sheet


def test_each_odd_sheet_is_filled_once():
    fillers, plan = fillers_for((square(A, 100.0), 200), stock=(PLAIN, ODD))
    first, second = following(fillers), following(fillers)
    assert [first.kind, second.kind] == [ODD, ODD]
    assert first.counts[A] + second.counts[A] == plan.held[A]
    assert following(fillers) is None


def test_odd_sheets_without_end_end_somewhere():
    fillers, _ = fillers_for((square(A, 100.0), 9999), stock=(PLAIN, replace(ODD, count=None)))
    some = 0
    while following(fillers) is not None:
        some += 1
    assert some == MOST_ODD


def test_a_dear_odd_sheet_is_left():
    dear = replace(ODD, cost=2.0 * ODD.outline.area)
    fillers, _ = fillers_for((square(A, 100.0), 50), stock=(PLAIN, dear))
    assert following(fillers) is None


@pytest.mark.parametrize(("share", "is_filled"), [(0.80, True), (0.84, False)], ids=["emptier", "as full as usual"])
def test_only_a_sheet_that_is_emptier_than_usual_is_filled_and_only_once(share, is_filled):
    fillers, plan = fillers_for((square(A, 100.0), 30))
    sheet = full(plan, 8, share * ROOM)
    filler = following(fillers)
    assert (filler is not None) == is_filled
    assert sheet.is_tried == is_filled
    if filler is not None:
        fillers.release(filler)
        assert not sheet.is_tried
        assert not +plan.held
    assert following(fillers) is None


def test_its_run_gets_what_lies_there_and_what_may_come():
    fillers, plan = fillers_for((square(A, 100.0), 30), (square("1", 400.0), 3))
    full(plan, 8, 0.7 * ROOM)
    filler = following(fillers)
    job = fillers.job_of(filler)
    assert {d.part.name: d.count for d in job.demands} == {A: 8 + filler.counts[A]}, "the big one has no room"
    assert [(sheet.name, sheet.count) for sheet in job.stock] == [("plain", 1)]


def test_what_it_adds_counts():
    fillers, plan = fillers_for((square(A, 100.0), 30))
    sheet = full(plan, 8, 0.7 * ROOM)
    filler = following(fillers)
    fillers.release(filler)
    fillers.take(filler, (*sheet.layout.placements, Placement(A, 10.0, 115.0)))
    assert [each.counts for each in plan.full] == [Counter({A: 9})]
    assert +plan.loose == {A: 21}
    assert plan.full[0].bulk == pytest.approx(9 * 105.0**2)


def test_with_little_time_nothing_is_filled():
    fillers, plan = fillers_for((square(A, 100.0), 30), seconds=1.0)
    full(plan, 8, 0.7 * ROOM)
    assert following(fillers) is None
