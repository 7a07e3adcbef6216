import pytest
from hypothesis import given, settings

from nesting.export.svg_tube import tube_svg
from nesting.model.part import TubePart
from nesting.model.section import Section
from tests.nesting.model.test_section import SHAPES
from tests.strategies import tube_parts
from tests.svg_again import Drawn


def words(part):
    return [word.replace("\u202f", " ") for word in Drawn(tube_svg(part)).words()]


def test_a_box_section_shows_length_height_width_wall_and_corner():
    shown = words(TubePart("post", Section.box(60, 40, 3, 6), 1234.5))
    assert shown == ["1 234.5 mm", "40 mm", "60 mm", "wall 3 mm, outside corner radius 6 mm"]


def test_a_round_tube_shows_its_diameter_and_axis():
    part = TubePart("rail", Section.round(48.3, 3.2), 900.0)
    assert words(part) == ["900 mm", "⌀ 48.3 mm", "wall 3.2 mm"]
    assert len(Drawn(tube_svg(part)).all("path", "axis")) == 1


def test_openings_and_ends_that_are_not_drawn_are_said_in_words():
    shown = words(TubePart("post", Section.box(60, 60, 3, 6), 1234.5, hole_count=2, square_ends=False))
    assert shown[-2:] == ["2 openings in the wall, not drawn", "ends not square, drawn plain"]
    assert "1 opening in the wall, not drawn" in words(TubePart("post", Section.box(60, 60, 3, 6), 99.0, hole_count=1))


def test_a_long_tube_is_drawn_broken_and_a_short_one_whole():
    long = Drawn(tube_svg(TubePart("post", Section.box(60, 60, 3, 6), 6000.0)))
    short = Drawn(tube_svg(TubePart("spacer", Section.box(60, 60, 3, 6), 100.0)))
    assert "C" in long.all("g", "piece")[0][0].get("d")
    assert "C" not in short.all("g", "piece")[0][0].get("d")
    _, _, width, height = long.box
    assert width / height < 6


def test_a_short_tube_is_to_one_scale():
    made = Drawn(tube_svg(TubePart("spacer", Section.box(60, 60, 3, 6), 100.0)))
    assert made.all("g", "piece")[0][0].get("d") == "M0 0H100V-60H0Z"


@given(tube_parts())
@settings(max_examples=60)
def test_every_tube_makes_a_well_formed_picture_within_its_view(part):
    made = Drawn(tube_svg(part))
    left, top, width, height = made.box
    for each in made.all("text", "start"):
        assert left <= float(each.get("x"))
        assert top < float(each.get("y")) < top + height
        assert float(each.get("x")) + 0.5 * float(each.get("font-size")) * len(each.text) < left + width


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_every_section_shows_its_end_and_says_its_measures(section):
    made = Drawn(tube_svg(TubePart("rail", section, 900.0)))
    rings = made.all("path", "")
    assert rings or made.all("g", "piece")
    shown = words(TubePart("rail", section, 900.0))
    text = " ".join(shown)
    for value in (section.height, section.width):
        assert f"{value:g} mm" in text
    if section.flange:
        assert f"web {section.wall:g} mm, flange {section.flange:g} mm" in text or "stem" in text
    if section.root_radius:
        assert f"root radius {section.root_radius:g} mm" in text
