"""Pieces laid into what is free of one sheet."""

from collections import Counter

from nesting.layout.engines.around import fill_record
from nesting.model.nest import Placement, SheetLayout, SheetNest
from nesting.model.stock import Sheet
from nesting.records.jobs import job_to_record
from nesting.records.nests import placement_from_record, placement_to_record
from nesting.route import check_nest
from tests.shop_parts import L_REMNANT, rectangle, sheet_job, square


def added(job, *fixed, seconds=1.0):
    request = {"job": job_to_record(job), "fixed": [placement_to_record(p) for p in fixed], "seconds": seconds}
    answer = fill_record(request, lambda record: None)
    return [placement_from_record(row, "answer") for row in answer["placements"]]


def test_the_room_beside_what_lies_there_is_filled():
    job = sheet_job((rectangle("door", 970.0, 400.0), 1), (square("plate", 60.0), 30))
    door = Placement("door", 10.0, 10.0)
    placements = added(job, door)
    # Source: by hand. Above the door 75 mm are left, one row of (980 + 5) // 65 = 15.
    assert Counter(p.part for p in placements) == {"plate": 15}
    assert (
        check_nest(
            SheetNest(
                sheet_job((job.demands[0].part, 1), (job.demands[1].part, 15)),
                (SheetLayout("1000x500", (door, *placements)),),
            )
        )
        == ()
    )


def test_large_pieces_go_first():
    job = sheet_job((square("large", 220.0), 8), (square("small", 20.0), 200))
    counts = Counter(p.part for p in added(job))
    assert counts["large"] == 8


def test_a_sheet_of_odd_outline_is_laid():
    remnant = Sheet("remnant", L_REMNANT, 1, is_remnant=True)
    job = sheet_job((square("a", 120.0), 60), stock=(remnant,))
    placements = added(job)
    assert len(placements) >= 15
    left = sheet_job((job.demands[0].part, len(placements)), stock=(remnant,))
    assert check_nest(SheetNest(left, (SheetLayout("remnant", tuple(placements)),))) == ()


def test_where_nothing_is_offered_nothing_is_added():
    job = sheet_job((square("a", 120.0), 1))
    assert added(job, Placement("a", 10.0, 10.0)) == []
