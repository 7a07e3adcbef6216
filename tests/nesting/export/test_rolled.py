import math

import pytest

from nesting.export.rolled import LONGEST, Rolled, Shortened
from nesting.geometry.contour import Contour, Path
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind
from tests.nesting.model.test_section import SHAPES

BOX = Section.box(60, 40, 3, 6)


def rolled(section):
    return Rolled(section.outlines[0])


def test_known_places_and_normals_of_a_box():
    # Source: by hand: s begins in the middle of the +y side; half of its flat, then an eighth of a circle of 6
    outline = rolled(BOX)
    assert outline.at(0.0) == pytest.approx((20, 0, 1, 0))
    half = math.sqrt(0.5)
    assert outline.at(24 + 6 * math.pi / 4) == pytest.approx((14 + 6 * half, 24 + 6 * half, half, half))
    assert outline.at(outline.girth) == pytest.approx((20, 0, 1, 0))
    assert outline.at(-5.0) == pytest.approx((20, -5, 1, 0))


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_a_step_round_is_as_long_as_it_says_and_square_to_the_normal(section):
    outline = rolled(section)
    step = outline.girth / 5000
    for k in range(0, 5000, 7):
        (y0, z0, ny, nz), (y1, z1, *_) = outline.at(k * step), outline.at((k + 1) * step)
        assert math.hypot(y1 - y0, z1 - z0) <= step + 1e-9
        assert math.hypot(ny, nz) == pytest.approx(1.0)
        # The metal lies on the left of the way round.
        assert (y1 - y0) * nz - (z1 - z0) * ny <= 1e-9 + 0.75 * step


def test_borders_are_where_the_surface_turns():
    assert len(rolled(BOX).borders) == 8
    assert rolled(Section.round(48.3, 3)).borders == []
    assert len(rolled(Section.bar(30, 30)).borders) == 4


def plain(length, *xs):
    girth = BOX.girth
    ends = tuple(EndCut(EndKind.SQUARE, Path(((x, 0.0, 0.0), (x, girth, 0.0)))) for x in (0.0, length))
    cuts = tuple(CutOut(CutOutKind.ROUND, "top", x, 50, 0, 90, 10, 10, (Contour.circle(x, 50, 5),), 10.0) for x in xs)
    return TubePart("post", BOX, length, len(xs), ends=ends, cut_outs=cuts)


def test_a_short_tube_is_drawn_whole():
    short = Shortened.of(plain(LONGEST * 60))
    assert (short.length, short.breaks) == (LONGEST * 60, [])
    assert short.at(123.0) == 123.0


def test_of_a_long_tube_plain_stretches_are_left_out_and_cuts_keep_their_size():
    short = Shortened.of(plain(6000.0, 3000.0, 3040.0))
    assert len(short.breaks) == 2
    assert short.length < 6 * 60 * 1.5
    assert short.at(3045.0) - short.at(2995.0) == pytest.approx(50.0)
    assert (short.at(0.0), short.at(6000.0)) == pytest.approx((0.0, short.length))
    places = [short.at(float(x)) for x in range(0, 6001, 10)]
    assert places == sorted(places)
