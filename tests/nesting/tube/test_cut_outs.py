import math
from functools import cache

import pytest

from nesting.model.section import Section
from nesting.model.tube_cuts import CutOutKind
from nesting.tube.cut_outs import cut_outs
from nesting.tube.measuring import measure
from nesting.tube.tube_shape import tube_shape
from nesting.tube.tube_solids import Hole, Slot, Tube, Window, tube_solid
from tests import other_solids

BOX, ROUND = Section.box(60, 40, 3, 6), Section.round(48.3, 3)


@cache
def openings_of(section, *openings, change=None):
    made = tube_solid(Tube(section, 400, openings=openings))
    solid = measure(made if change is None else change(made))
    return cut_outs(solid, tube_shape(solid))


@pytest.mark.parametrize("change", [None, other_solids.split_at_quarters, other_solids.free_form], ids=str)
def test_cut_outs_on_flats_have_kind_face_size_and_place(change):
    made = openings_of(
        BOX, Hole(80, 12, 90, 5), Slot(130, 30, 8, 180), Window(180, 20, 10, 270), Slot(230, 20, 6, 0, across=True),
        Hole(300, 9, 0, -7), change=change,
    )  # fmt: skip
    kinds = [cut.kind for cut in made]
    assert kinds == [
        CutOutKind.ROUND, CutOutKind.SLOT, CutOutKind.RECTANGLE, CutOutKind.SLOT, CutOutKind.ROUND
    ]  # fmt: skip
    assert [cut.x for cut in made] == pytest.approx([80, 130, 180, 230, 300], abs=1e-4)
    sizes = [(12, 12), (30, 8), (20, 10), (6, 20), (9, 9)]
    assert [(c.length, c.width) for c in made] == [pytest.approx(size, abs=1e-4) for size in sizes]
    assert [cut.diameter for cut in made] == pytest.approx([12, 8, 0, 6, 9], abs=1e-4)
    assert [cut.face for cut in made] in (
        ["top", "front", "bottom", "back", "back"], ["bottom", "back", "top", "front", "front"]
    )  # fmt: skip
    # Offsets count upwards along s, which a turn of the tube about its axis does not change.
    assert [cut.offset for cut in made] == pytest.approx([-5, 0, 0, 0, -7], abs=1e-4) or [
        cut.offset for cut in made
    ] == pytest.approx([5, 0, 0, 0, -7], abs=1e-4)
    assert max(cut.bevel for cut in made) < 1e-3


def test_drilled_openings_in_round_tube_keep_the_measures_of_their_tools():
    hole, slot, window = openings_of(ROUND, Hole(80, 12, 90), Slot(150, 30, 8, 30), Window(220, 20, 10, 200))
    assert (hole.kind, slot.kind, window.kind) == (CutOutKind.ROUND, CutOutKind.SLOT, CutOutKind.RECTANGLE)
    assert (hole.diameter, slot.diameter) == pytest.approx((12, 8), abs=1e-6)
    # Source: derivation: a tool of width w goes 2 R asin(w / 2 R) round the outside; its wall leans asin(w / 2 R)
    for cut, width in ((hole, 12), (slot, 8), (window, 10)):
        angle = math.asin(width / 48.3)
        assert cut.width == pytest.approx(48.3 * angle, abs=2e-3)
        assert cut.bevel == pytest.approx(math.degrees(angle), abs=0.05)
    assert (hole.towards - window.towards) % 360 == pytest.approx(250.0, abs=1e-3)
    assert slot.face.startswith("round wall")


def test_openings_over_a_corner_say_so():
    beside, corner = openings_of(BOX, Hole(80, 14, 45), Hole(150, 4, 0, 27.5))
    assert beside.face.endswith("over its corner")
    assert corner.face.startswith("corner ")
    assert beside.kind is CutOutKind.ROUND


def test_a_hole_in_a_leg_has_its_contour_on_both_faces_of_the_wall():
    (hole,) = openings_of(Section.angle(60, 40, 5, 6, 3), Hole(100, 8, 270, 5))
    assert (hole.kind, len(hole.contours), hole.diameter) == (CutOutKind.ROUND, 2, pytest.approx(8.0))
    assert hole.contours[0].area == pytest.approx(hole.contours[1].area)


def test_another_shape_is_a_plain_cut_out():
    upright = other_solids.turned(other_solids.prism([(0, 0), (10, 0), (5, 9)], 60), (0, 1, 0), -90, (100, 0, 0))
    solid = measure(other_solids.cut(tube_solid(Tube(BOX, 400)), upright))
    (cut,) = cut_outs(solid, tube_shape(solid))
    assert (cut.kind, cut.diameter) == (CutOutKind.FREE, 0.0)
