import math

import pytest

from nesting.export.bar_views import looks_at, silhouettes
from nesting.export.pieces import BarPiece, pieces_on_bar
from nesting.export.svg_bar import bar_svg
from nesting.model.nest import BarRules, Piece
from nesting.model.part import TubePart
from nesting.model.tube_cuts import EndCut, EndKind
from tests.mitred import BOX, ROUND, TALL, brace, frame_side, mitred, mitred_job, nest_of
from tests.nesting.export.test_svg_tube_views import part_of
from tests.svg_again import Drawn


def laid(part, flipped=False, turn=0.0, start=100.0):
    return BarPiece(1, part, Piece(part.name, start, flipped, turn))


@pytest.mark.parametrize("section", [BOX, TALL, ROUND], ids=str)
def test_from_the_front_a_mitre_is_a_straight_slope(section):
    # Source: by hand: at 30° the long point on top reaches the height times the tangent further than the bottom.
    deep = section.height * math.tan(math.radians(30.0))
    near, far = silhouettes(laid(frame_side(section=section, angle=30.0)), "front")
    assert near == [pytest.approx((100.0 + deep, 0.0), abs=0.02), pytest.approx((100.0, 1.0), abs=0.02)]
    assert far == [pytest.approx((700.0 - deep, 0.0), abs=0.02), pytest.approx((700.0, 1.0), abs=0.02)]
    near, far = silhouettes(laid(frame_side(section=section, angle=30.0), turn=180.0), "front")
    assert near == [pytest.approx((100.0, 0.0), abs=0.02), pytest.approx((100.0 + deep, 1.0), abs=0.02)]


def test_across_the_look_a_mitre_shows_its_long_point_alone():
    near, far = silhouettes(laid(frame_side()), "top")
    # Beside the flat top its corners of 6 mm round away.
    assert {round(x, 6) for x, share in near if 0.16 < share < 0.84} == {100.0}
    assert {round(x, 6) for x, share in far if 0.16 < share < 0.84} == {700.0}


def test_end_for_end_the_ends_change_over():
    part = mitred("half", BOX, 600.0, (45.0, 90.0))
    near, far = silhouettes(laid(part, flipped=True), "front")
    assert near == [(100.0, 0.0), (100.0, 1.0)]
    assert far == [pytest.approx((660.0, 0.0)), pytest.approx((700.0, 1.0))]


def test_a_saddle_is_followed_over_the_height():
    # A cope as deep as a parabola over the section's height.
    part = part_of(ROUND)
    girth, half = ROUND.girth, ROUND.height / 2.0
    waves = [(k / 90.0, half * math.sin(2.0 * math.pi * k / 90.0)) for k in range(91)]
    path = tuple((300.0 - 10.0 + 10.0 * (z / half) ** 2, girth * share, 0.0) for share, z in waves)
    cope = EndCut(EndKind.COPE, type(part.ends[0].path)(path), 90.0, 0.0, 60.0)
    part = TubePart("rail", ROUND, 300.0, square_ends=False, ends=(part.ends[0], cope))
    _, far = silhouettes(laid(part, start=0.0), "front")
    for x, share in far:
        assert x == pytest.approx(290.0 + 10.0 * (2.0 * share - 1.0) ** 2, abs=0.1)


@pytest.mark.parametrize(
    ("turns", "looks"),
    [((0.0, 180.0), ["front"]), ((90.0, 270.0), ["top"]), ((0.0, 90.0), ["front", "top"])],
)
def test_the_bar_is_seen_from_where_its_mitres_show(turns, looks):
    part = frame_side()
    job = mitred_job((part, 2))
    nest = nest_of(job, *(Piece("side", 700.0 * k, False, turn) for k, turn in enumerate(turns)))
    assert looks_at(pieces_on_bar(nest, 0)[2]) == looks
    made = Drawn(bar_svg(nest, 0))
    assert [word for word in made.words() if word.startswith("seen")] == (
        [] if looks == ["front"] else [f"seen from the {look}" for look in looks]
    )
    for group in made.all("g", "piece"):
        assert len([each for each in group if each.tag.endswith("path")]) == len(looks)


def test_a_bar_without_mitres_is_seen_from_the_front():
    assert looks_at([laid(mitred("post", BOX, 300.0)), laid(TubePart("plain", BOX, 300.0))]) == ["front"]


def test_what_cannot_lie_so_is_drawn_as_a_box():
    near, far = silhouettes(laid(brace(section=TALL), turn=90.0), "front")
    assert (near, far) == ([(100.0, 0.0), (100.0, 1.0)], [(600.0, 0.0), (600.0, 1.0)])


def test_interlocked_pieces_are_drawn_side_by_side_and_say_how_they_lie():
    job = mitred_job((frame_side(), 2), rules=BarRules(5.0))
    nest = nest_of(job, Piece("side", 0.0), Piece("side", 565.0, False, 180.0))
    made = Drawn(bar_svg(nest, 0))
    first, second = (next(e.get("d") for e in group if e.tag.endswith("path")) for group in made.all("g", "piece"))
    # Source: by hand: the far edge runs from 560 below to 600 on top, the next near edge from 565 to 605.
    assert "560" in first
    assert "600" in first
    assert "565" in second
    assert "605" in second
    titles = [each.text for each in made.all("title")]
    assert "2 side, 600\u202fmm, turned 180° about the bar's axis" in titles
    assert "turned 180°" in made.words()
