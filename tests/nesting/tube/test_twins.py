from functools import cache

import pytest

from nesting.model.section import Section
from nesting.tube.measuring import measure
from nesting.tube.tube_shape import tube_shape
from nesting.tube.tube_solids import Cope, Hole, Mitre, Slot, Tube, Window, tube_solid
from nesting.tube.twins import Cuts, are_mirrored, are_one
from tests import other_solids

BOX, SQUARE, ROUND = Section.box(60, 40, 3, 6), Section.box(40, 40, 3, 6), Section.round(48.3, 3)
ANGLE, CHANNEL = Section.angle(60, 40, 5, 6, 3), Section.channel(60, 40, 5, 6, 4)

HANDED = [
    Tube(BOX, 300, openings=(Hole(80, 8, 90), Hole(100, 8, 0, 5))),
    Tube(SQUARE, 300, start=Mitre(30, 90), end=Mitre(30, 0)),
    Tube(SQUARE, 300, openings=(Hole(80, 8, 90), Hole(100, 8, 0), Slot(120, 20, 6, 180))),
    Tube(ROUND, 300, start=Mitre(30, 0), end=Mitre(30, 70)),
    Tube(ROUND, 300, end=Cope(60.3, 20), openings=(Hole(80, 8, 0),)),
    Tube(ROUND, 300, openings=(Hole(80, 8, 0), Hole(150, 8, 90))),
    Tube(CHANNEL, 300, openings=(Hole(80, 8, 180, offset=10),), end=Mitre(20, 0)),
    Tube(ANGLE, 300, openings=(Hole(80, 8, 270, offset=5),)),
]

ALIKE = [
    Tube(BOX, 300),
    Tube(ROUND, 300),
    Tube(ROUND, 300, end=Cope(60.3)),
    Tube(BOX, 300, start=Mitre(45, 90), end=Mitre(45, 90)),
    Tube(SQUARE, 300, openings=(Hole(80, 8, 90, both_walls=True),)),
    Tube(ROUND, 300, openings=(Hole(80, 8, 0), Hole(150, 8, 180))),
    Tube(CHANNEL, 300, openings=(Hole(80, 8, 180),)),
    Tube(Section.angle(50, 50, 5, 6, 3), 300),
    Tube(ANGLE, 300),
    Tube(Section.round_bar(20), 300, openings=(Hole(80, 8, 20, both_walls=True),)),
]


def said(tube):
    cuts = [type(cut).__name__ for cut in (tube.start, tube.end, *tube.openings) if cut is not None]
    return f"{tube.section} {tube.length:g} {' '.join(cuts)}"


def cuts_of(solid):
    return Cuts(tube_shape(measure(solid)))


@cache
def as_made(tube):
    """Kept, for the kernel takes a tenth of a second for each."""
    solid = tube_solid(tube)
    return solid, cuts_of(solid)


def turned(solid, axis=(1, 2, 3), angle=77):
    return other_solids.turned(solid, axis, angle, (40, -900, 3))


@pytest.mark.parametrize("tube", HANDED + ALIKE, ids=said)
@pytest.mark.parametrize(("axis", "angle"), [((1, 2, 3), 77), ((1, 0, 0), 33), ((0, 1, 1), 180)])
def test_a_part_is_one_with_itself_however_it_lies(tube, axis, angle):
    solid, first = as_made(tube)
    second = cuts_of(turned(solid, axis, angle))
    assert are_one(first, second)
    assert not are_mirrored(first, second)


@pytest.mark.parametrize("tube", HANDED, ids=said)
def test_a_mirror_image_is_another_part(tube):
    solid, first = as_made(tube)
    second = cuts_of(turned(other_solids.mirrored(solid)))
    assert not are_one(first, second)
    assert are_mirrored(first, second)
    assert are_mirrored(second, first)


@pytest.mark.parametrize("tube", ALIKE, ids=said)
def test_the_mirror_image_of_a_part_that_has_no_hand_is_the_part(tube):
    solid, first = as_made(tube)
    assert are_one(first, cuts_of(turned(other_solids.mirrored(solid))))


@pytest.mark.parametrize("change", [other_solids.split_at_quarters, other_solids.free_form])
@pytest.mark.parametrize("tube", HANDED, ids=said)
def test_splits_and_free_form_surfaces_make_no_other_part(tube, change):
    solid, first = as_made(tube)
    assert are_one(first, cuts_of(turned(change(solid))))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Tube(BOX, 300), Tube(BOX, 300.05)),
        (Tube(BOX, 300), Tube(Section.box(60, 40, 3, 5.9), 300)),
        (Tube(BOX, 300, openings=(Hole(80, 8),)), Tube(BOX, 300, openings=(Hole(80.1, 8),))),
        (Tube(BOX, 300, openings=(Hole(80, 8),)), Tube(BOX, 300, openings=(Hole(80, 8.1),))),
        (Tube(BOX, 300, openings=(Hole(80, 8),)), Tube(BOX, 300, openings=(Hole(80, 8, 0),))),
        (Tube(BOX, 300, end=Mitre(30, 90)), Tube(BOX, 300, end=Mitre(30, 0))),
        (Tube(BOX, 300, end=Mitre(30, 90)), Tube(BOX, 300, end=Mitre(30.1, 90))),
        (Tube(ROUND, 300, start=Mitre(30), end=Mitre(30)), Tube(ROUND, 300, start=Mitre(30), end=Mitre(30, 180))),
        (Tube(BOX, 300, openings=(Hole(80, 8),)), Tube(BOX, 300, openings=(Window(80, 8, 8),))),
        (Tube(BOX, 300), Tube(Section.round_bar(60), 300)),
    ],
    ids=said,
)
def test_small_differences_make_other_parts(one, other):
    first, second = as_made(one)[1], as_made(other)[1]
    assert not are_one(first, second)
    assert not are_mirrored(first, second)
