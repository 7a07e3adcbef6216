from functools import cache

import pytest

from nesting.model.section import Section
from nesting.model.tube_cuts import EndKind
from nesting.tube.end_cuts import end_cuts
from nesting.tube.measuring import measure
from nesting.tube.tube_shape import tube_shape
from nesting.tube.tube_solids import Cope, Hole, Mitre, Tube, Window, tube_solid
from tests import other_solids

BOX, ROUND, ANGLE = Section.box(60, 40, 3, 6), Section.round(48.3, 3), Section.angle(60, 40, 5, 6, 3)


def cuts_of(made):
    solid = measure(made)
    return end_cuts(solid, tube_shape(solid))


@cache
def cuts(tube):
    return cuts_of(tube_solid(tube))


def turns_apart(first, second, whole=360.0):
    return abs((first - second + whole / 2) % whole - whole / 2)


@pytest.mark.parametrize("section", [BOX, ROUND, ANGLE, Section.bar(30, 30), Section.oval(60, 30, 2)], ids=str)
def test_plain_ends_are_square(section):
    assert [cut.kind for cut in cuts(Tube(section, 300))] == [EndKind.SQUARE] * 2


@pytest.mark.parametrize(
    "section", [BOX, ROUND, ANGLE, Section.round_bar(20), Section.channel(60, 40, 5, 6, 4)], ids=str
)
@pytest.mark.parametrize("angle", [3.0, 22.5, 45.0, 55.0])
def test_mitres_have_their_angle_and_their_long_points_on_one_side_or_turned(section, angle):
    start, end = cuts(Tube(section, 500, start=Mitre(angle, 90), end=Mitre(angle, 0)))
    assert (start.kind, end.kind) == (EndKind.MITRE, EndKind.MITRE)
    assert (start.angle, end.angle) == pytest.approx((angle, angle), abs=1e-5)
    # Seen from the start the long points are a quarter turn apart, however the section was taken to lie.
    assert turns_apart(start.towards, end.towards) == pytest.approx(90.0, abs=1e-4)
    assert start.bevel == pytest.approx(angle, abs=1e-3) or section is ANGLE


def test_the_long_point_is_where_the_tube_is_longest():
    start, end = cuts(Tube(BOX, 300, start=Mitre(30, 90), end=Mitre(30, 90)))
    for cut, furthest in ((start, min), (end, max)):
        x, s, _ = furthest(cut.path.vertices)
        assert x == pytest.approx(0.0 if cut is start else 300.0, abs=1e-6)
        assert cut.towards == pytest.approx(90.0 if s < BOX.girth / 2 else 270.0, abs=1e-4)


@pytest.mark.parametrize("section", [BOX, ROUND], ids=str)
@pytest.mark.parametrize(
    "cope", [Cope(60.3), Cope(88.9, 90, 4.0), Cope(88.9, 0, 0.0, 60.0), Cope(114.3, 0, -7.5, 75.0)], ids=str
)
def test_copes_have_the_diameter_offset_and_angle_of_their_mate(section, cope):
    for at_start in (True, False):
        ends = {"start": cope} if at_start else {"end": cope}
        cut = cuts(Tube(section, 400, **ends))[0 if at_start else 1]
        assert cut.kind is EndKind.COPE
        assert (cut.diameter, cut.angle) == pytest.approx((cope.diameter, cope.angle), abs=1e-5)
        assert abs(cut.offset) == pytest.approx(abs(cope.offset), abs=1e-5)
        assert turns_apart(cut.towards, cope.along, 180.0) < 1e-4 or section is ROUND


def test_the_offset_of_a_leaning_cope_has_the_sign_of_its_side():
    signs = []
    for offset in (5.0, -5.0):
        start, end = cuts(Tube(ROUND, 400, end=Cope(88.9, 20, offset, 60), start=Mitre(30, 20)))
        # The mate leans outwards towards 20°, where the other end has its long point.
        assert turns_apart(end.towards, start.towards) < 1e-4
        signs.append(end.offset)
    assert signs == pytest.approx([5.0, -5.0], abs=1e-5)


@pytest.mark.parametrize("change", [other_solids.split_at_quarters, other_solids.free_form], ids=str)
def test_kinds_do_not_depend_on_how_the_surfaces_were_written(change):
    made = change(tube_solid(Tube(ROUND, 400, start=Mitre(40, 90), end=Cope(60.3, 0, 4))))
    start, end = cuts_of(other_solids.turned(made, (1, 2, 3), 50, (5, 6, 7)))
    mitre, cope = (start, end) if start.kind is EndKind.MITRE else (end, start)
    assert mitre.angle == pytest.approx(40.0, abs=1e-3)
    assert (cope.kind, cope.diameter, abs(cope.offset)) == (
        EndKind.COPE, pytest.approx(60.3, abs=1e-3), pytest.approx(4.0, abs=1e-3)
    )  # fmt: skip


@pytest.mark.parametrize("opening", [Window(0, 60, 20, 90), Hole(0, 14, 90)], ids=str)
def test_a_square_end_with_something_cut_out_of_it_is_notched(opening):
    start, end = cuts(Tube(BOX, 300, openings=(opening,)))
    assert sorted((start.kind, end.kind)) == [EndKind.NOTCHED, EndKind.SQUARE]
    assert {str(start), str(end)} == {"square with a notch", "square"}


@pytest.mark.parametrize(("angle", "towards"), [(45.0, 90.0), (22.5, 0.0), (30.0, 270.0)])
def test_a_mitre_with_a_notch_keeps_its_angle_and_its_side(angle, towards):
    plain = cuts(Tube(BOX, 300, start=Mitre(angle, towards)))
    away = (towards + 180.0) % 360.0
    notched = cuts(Tube(BOX, 300, start=Mitre(angle, towards), openings=(Window(0.0, 200.0, 15.0, away),)))
    for without, with_notch in zip(plain, notched, strict=True):
        if without.kind is EndKind.SQUARE:
            assert with_notch.kind is EndKind.SQUARE
            continue
        assert (without.kind, with_notch.kind) == (EndKind.MITRE, EndKind.NOTCHED)
        assert with_notch.angle == pytest.approx(angle, abs=1e-6)
        assert with_notch.towards == pytest.approx(without.towards, abs=1e-6)
        assert str(with_notch) == f"{without}, with a notch"


def test_an_end_that_no_plane_carries_half_way_round_is_free():
    steps = (Window(0, 60, 38, 90), Window(0, 60, 38, 0), Window(0, 90, 38, 270), Window(0, 30, 38, 180))
    start, end = cuts(Tube(BOX, 300, openings=steps))
    assert sorted((start.kind, end.kind)) == [EndKind.FREE, EndKind.SQUARE]
