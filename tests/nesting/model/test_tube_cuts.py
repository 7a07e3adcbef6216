import math

import pytest

from nesting.errors import BadValue
from nesting.geometry.contour import Contour, Path
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind, side_words

ROUND = Path(((0.0, 0.0, 0.0), (0.0, 160.0, 0.0)))


@pytest.mark.parametrize(
    ("cut", "words"),
    [
        (EndCut(EndKind.SQUARE, ROUND), "square"),
        (EndCut(EndKind.MITRE, ROUND, 22.5, 90.0), "mitre 22.5°, long point at the top"),
        (EndCut(EndKind.MITRE, ROUND, 45.0, 359.99), "mitre 45°, long point at the back"),
        (EndCut(EndKind.COPE, ROUND, 90.0, 0.0, 60.3), "cope for ⌀ 60.3 mm"),
        (EndCut(EndKind.COPE, ROUND, 60.0, 0.0, 60.3, -5.0), "cope for ⌀ 60.3 mm at 60°, 5 mm off the middle"),
        (EndCut(EndKind.FREE, ROUND), "free"),
    ],
    ids=str,
)
def test_an_end_says_what_it_is(cut, words):
    assert str(cut) == words


def test_a_direction_is_told_by_its_side_or_its_angle_from_the_top():
    assert [side_words(angle) for angle in (0, 90, 180, 270)] == [
        "at the back", "at the top", "at the front", "at the bottom"
    ]  # fmt: skip
    assert side_words(110) == "20° from the top towards the front"
    assert side_words(60) == "30° from the top towards the back"
    assert side_words(300) == "150° from the top towards the back"


def cut_out(kind, **given):
    measures = {"x": 100.0, "s": 40.0, "offset": 0.0, "towards": 90.0, "length": 12.0, "width": 12.0} | given
    return CutOut(kind, "top", **measures, contours=(Contour.circle(100.0, 40.0, 6.0),))


def test_a_cut_out_says_its_size_face_and_place():
    assert str(cut_out(CutOutKind.ROUND, diameter=12.0)) == "round hole ⌀ 12 mm, top, 100 mm from the start"
    slot = cut_out(CutOutKind.SLOT, diameter=8.0, length=30.0, width=8.0, offset=-5.0)
    assert str(slot) == "slot 30 x 8 mm, top, -5 mm beside its middle, 100 mm from the start"


@pytest.mark.parametrize(
    "build",
    [
        lambda: EndCut(EndKind.MITRE, ROUND),
        lambda: EndCut(EndKind.MITRE, ROUND, 90.0),
        lambda: EndCut(EndKind.COPE, ROUND, 90.0),
        lambda: EndCut(EndKind.COPE, ROUND, 120.0, 0.0, 60.3),
        lambda: EndCut(EndKind.SQUARE, ROUND, math.nan),
        lambda: CutOut(CutOutKind.FREE, "top", 0, 0, 0, 0, 1, 1, ()),
        lambda: cut_out(CutOutKind.ROUND, x=math.inf),
    ],
)
def test_cuts_that_cannot_be_are_refused(build):
    with pytest.raises(BadValue):
        build()
