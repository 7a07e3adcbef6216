import math
from dataclasses import replace
from itertools import pairwise

import pytest

from nesting.export.rolled import Rolled
from nesting.export.svg_tube_views import (
    MOST_LINES,
    Camera,
    Scene,
    fine_places,
    in_words,
    sides_svg,
    slanted_svg,
    xs_at,
)
from nesting.geometry.contour import Contour, Path
from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.model.tube_cuts import SIDES, CutOut, CutOutKind, EndCut, EndKind
from tests.nesting.model.test_section import SHAPES
from tests.svg_again import Drawn

BOX, ROUND, CHANNEL = Section.box(60, 40, 3, 6), Section.round(48.3, 3), Section.channel(100, 50, 5, 8.5, 9)
TOP = BOX.girth / 4.0


def part_of(section, length=300.0, cuts=(), mitre=False):
    girth = section.girth
    start = EndCut(EndKind.SQUARE, Path(((0.0, 0.0, 0.0), (0.0, girth, 0.0))))
    end = EndCut(EndKind.SQUARE, Path(((length, 0.0, 0.0), (length, girth, 0.0))))
    if mitre:
        rolled = Rolled(section.outlines[0])
        waves = [(girth * k / 90, rolled.at(girth * k / 90)) for k in range(91)]
        path = tuple((length - section.height / 2 + z, s, 0.0) for s, (_, z, *_) in waves)
        end = EndCut(EndKind.MITRE, Path(path), 45.0, 90.0)
    return TubePart("rail", section, length, len(cuts), ends=(start, end), cut_outs=tuple(cuts))


def hole(x, s, towards=90.0, size=12.0):
    contour = Contour.circle(x, s, size / 2)
    return CutOut(CutOutKind.ROUND, "top", x, s, 0.0, towards, size, size, (contour,), size)


def side_lines(part, towards):
    return Scene(part, Camera.from_side(towards)).lines()


def reach(runs):
    xs, ys = zip(*(each for run in runs for each in run), strict=True)
    return min(xs), max(xs), min(ys), max(ys)


@pytest.mark.parametrize("section", SHAPES, ids=str)
@pytest.mark.parametrize("towards", [0.0, 90.0, 180.0, 270.0])
def test_from_each_side_a_part_is_as_long_and_as_tall_as_it_is(section, towards):
    tall = section.height if towards in (0.0, 180.0) else section.width
    drawn = reach(side_lines(part_of(section, 120.0), towards))
    assert drawn == pytest.approx((0.0, 120.0, -tall / 2, tall / 2), abs=0.2)


def test_a_hole_is_seen_from_its_side_alone():
    part = part_of(BOX, cuts=[hole(100.0, TOP)])
    counts = [len(side_lines(part, side)) - len(side_lines(part_of(BOX), side)) for side in (0.0, 90.0, 180.0, 270.0)]
    assert counts == [0, 1, 0, 0]


def test_what_stands_behind_another_wall_is_not_seen():
    outline = Rolled(CHANNEL.outlines[0])
    # The inner face of the lower flange faces up, under the upper one.
    s = next(k for k in range(int(outline.girth)) if outline.at(k)[3] > 0.99 and outline.at(k)[1] < -40)
    scene = Scene(part_of(CHANNEL), Camera.from_side(90.0))
    assert not scene.is_seen((150.0, float(s)))
    assert scene.is_seen((150.0, next(k for k in range(400) if outline.at(k)[1] > 49.9) + 1.0))


def test_from_the_side_a_mitre_shows_its_slope():
    # Source: by hand: at 45° the lower edge is shorter by the height
    runs = side_lines(part_of(BOX, mitre=True), 180.0)
    ends = {round(y): x for run in runs for x, y in run if x > 200}
    assert ends[30] - ends[-30] == pytest.approx(60.0, abs=0.5)


@pytest.mark.parametrize("turn", [0.0, 90.0, 200.0])
def test_the_camera_is_square_to_itself(turn):
    for camera in (Camera.at_a_slant(turn), Camera.from_side(turn)):
        ways = (camera.viewer, camera.right, camera.up)
        for i, first in enumerate(ways):
            for k, second in enumerate(ways):
                dot = math.fsum(a * b for a, b in zip(first, second, strict=True))
                assert dot == pytest.approx(float(i == k), abs=1e-12)


def test_the_slanted_picture_shows_the_bore_at_the_near_end_and_turns():
    part = part_of(BOX, cuts=[hole(100.0, TOP)])
    plain, turned = (Scene(part, Camera.at_a_slant(turn)).lines() for turn in (0.0, 90.0))
    assert any(len(run) > 12 and run[0] == pytest.approx(run[-1]) for run in plain)
    assert reach(plain) != pytest.approx(reach(turned))
    assert "rolled by 90°" in slanted_svg(part, 90.0)


def test_round_places_are_close_together_and_closed():
    places = fine_places(Path(((0.0, 0.0, 0.0), (0.0, 150.0, 0.0))), 150.0)
    assert max(b[1] - a[1] for a, b in pairwise(places)) <= 150.0 / 72 + 1e-9
    ring = fine_places(Contour.circle(5.0, 5.0, 3.0), 150.0)
    assert ring[0] == pytest.approx(ring[-1])
    assert {round(x, 3) for x in xs_at(ring, 5.0)} == {2.0, 8.0}


def test_the_section_stands_beside_the_sides_with_its_measures():
    words = [word.replace("\u202f", " ") for word in Drawn(sides_svg(part_of(BOX))).words()]
    assert {"40 mm", "60 mm", "300 mm", *SIDES} <= set(words)
    assert "wall 3 mm, outside corner radius 6 mm" in words


def test_both_pictures_number_the_findings_that_are_seen():
    part = part_of(BOX, cuts=[hole(100.0, TOP)])
    findings = [
        Finding("a", Severity.NOTE, "No place."),
        Finding("b", Severity.WARNING, "On <top>.", (100.0, TOP)),
        Finding("c", Severity.NOTE, "At the bottom.", (50.0, 3 * TOP)),
    ]
    made = Drawn(sides_svg(part, findings))
    assert sorted(pin.get("data-finding") for pin in made.all("g", "pin")) == ["2", "3"]
    assert [pin.get("data-finding") for pin in Drawn(slanted_svg(part, 0.0, findings)).all("g", "pin")] == ["2"]


def test_ends_and_cut_outs_are_told_in_words_up_to_a_dozen():
    part = part_of(BOX, cuts=[hole(20.0 + 10 * k, TOP) for k in range(MOST_LINES + 3)])
    lines = in_words(part)
    assert lines[0].startswith("wall 3")
    assert lines[1:4] == ["start: square", "end: square", "round hole ⌀ 12 mm, top, 20 mm from the start"]
    assert lines[-1] == "and 3 more"


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_every_section_makes_pictures_within_their_views(section):
    for made in (sides_svg(part_of(section, 2000.0)), slanted_svg(part_of(section, 2000.0))):
        drawn = Drawn(made)
        left, top, width, height = drawn.box
        for each in drawn.all("text", "start"):
            assert left <= float(each.get("x")) < left + width
            assert top < float(each.get("y")) < top + height


def test_a_part_of_which_only_the_length_is_known_makes_a_picture_too():
    bare = replace(part_of(BOX), ends=None)
    for made in (sides_svg(bare), slanted_svg(bare)):
        assert Drawn(made).box[2] > 0
