"""What an engine knows of its pieces and sheets."""

from dataclasses import replace
from datetime import date

import pytest

from nesting.geometry.contour import Bounds
from nesting.layout.composites import Filling, pieces_of, plain_pieces
from nesting.layout.measures import Measures
from nesting.model.nest import Placement
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, frame, rectangle, sheet_job, square

STOCK = (Sheet.rectangle("plain", 1000.0, 500.0), Sheet("L", L_REMNANT, is_remnant=True))
JOB = sheet_job(
    (frame("host", 200.0, 200.0, 30.0), 2), (square("guest", 100.0), 2), (rectangle("long", 600.0, 5.0), 1), stock=STOCK
)


def measured(job=JOB, pieces=None):
    return Measures(pieces or plain_pieces(job), job, 5.0, 10.0)


def names_of(pieces):
    return {host: name for name, (host, held) in pieces.contents.items() if not held}


def test_plain_sheets_are_usable_less_their_margin_and_odd_ones_are_not_plain():
    measures = measured()
    assert measures.usable == {"plain": Bounds(10.0, 10.0, 990.0, 490.0)}
    # Source: by hand, half a gap of each part may lie outside: (980 + 5) x (480 + 5).
    assert measures.room(STOCK[0]) == pytest.approx(985.0 * 485.0)
    assert measures.room(STOCK[1]) == STOCK[1].outline.area


def test_a_square_takes_itself_and_half_a_gap_all_round():
    measures, names = measured(), names_of(plain_pieces(JOB))
    assert measures.bulk[names["guest"]] == pytest.approx(105.0**2)
    assert measures.total({names["guest"]: 3}) == pytest.approx(3 * 105.0**2)


def test_a_piece_fits_where_one_of_its_turns_does():
    measures, names = measured(), names_of(plain_pieces(JOB))
    assert measures.fits(names["long"], STOCK[0])
    assert not measures.fits(names["long"], Sheet.rectangle("small", 500.0, 500.0))


def test_what_holds_an_early_part_is_due_with_it():
    dues = {"host": date(2027, 3, 19), "guest": date(2027, 3, 1), "long": None}
    job = replace(JOB, demands=tuple(replace(d, due=dues[d.part.name]) for d in JOB.demands))
    pieces = pieces_of(job, (Filling("host", 0, (Placement("guest", 50.0, 50.0),), 1),))
    ranks = measured(job, pieces).ranks
    full = next(name for name, (_, held) in pieces.contents.items() if held)
    names = names_of(pieces)
    assert (ranks[full], ranks[names["guest"]], ranks[names["host"]], ranks[names["long"]]) == (0, 0, 1, 2)


def test_without_dates_nothing_is_ranked():
    assert measured().ranks == {}
