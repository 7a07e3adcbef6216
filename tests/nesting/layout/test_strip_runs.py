"""Requests to the strip library and what its answers mean on a sheet."""

import pytest

from nesting.errors import BadRecord
from nesting.geometry.contour import Bounds
from nesting.layout.composites import plain_pieces
from nesting.layout.measures import Measures
from nesting.layout.strip_runs import placements_of, strip_request
from nesting.model.nest import Placement
from tests.shop_parts import sheet_job, square

JOB = sheet_job((square("a", 100.0), 3), (square("b", 50.0), 2), turns=(0.0, 90.0))
PIECES = plain_pieces(JOB)
MEASURES = Measures(PIECES, JOB, 5.0, 10.0)
USABLE = Bounds(10.0, 20.0, 990.0, 480.0)
A, B = list(PIECES.contents)


def test_items_stand_in_the_order_of_the_names():
    request = strip_request(MEASURES, [B, A], {A: 3, B: 2}, USABLE, gap=5.0, target=980.0, decide=2.0, seed=7)
    assert [item["count"] for item in request["items"]] == [2, 3]
    assert request["items"][0]["turns_deg"] == [0.0, 90.0]
    assert (request["height_mm"], request["target_mm"], request["decide_s"], request["seed"]) == (460.0, 980.0, 2.0, 7)


def test_free_turning_is_told_as_such():
    job = sheet_job((square("a", 100.0), 3), turns="any")
    pieces = plain_pieces(job)
    (name,) = pieces.contents
    measures = Measures(pieces, job, 5.0, 10.0)
    request = strip_request(measures, [name], {name: 3}, USABLE, gap=5.0, target=None, decide=2.0, seed=7)
    assert request["items"][0]["turns_deg"] is None


def test_places_are_shifted_onto_the_sheet_and_turns_made_exact():
    record = {"places": [[0, 1.0, 2.0, 90.00001525878906], [1, 3.0, 4.0, -1e-5]]}
    assert placements_of(record, MEASURES, [B, A], USABLE) == [
        Placement(B, 11.0, 22.0, 90.0),
        Placement(A, 13.0, 24.0, 0.0),
    ]


@pytest.mark.parametrize("record", [{}, {"places": 5}, {"places": [[0, 1.0]]}, {"places": [[9, 1.0, 2.0, 0.0]]}])
def test_nonsense_is_no_answer(record):
    with pytest.raises((BadRecord, LookupError, TypeError, ValueError)):
        placements_of(record, MEASURES, [B, A], USABLE)
