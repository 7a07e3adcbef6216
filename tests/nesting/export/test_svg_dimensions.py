from xml.etree import ElementTree as ET

from nesting.export.svg_dimensions import across, upright
from tests.svg_again import runs_of


def parsed(fragment):
    return ET.fromstring(f"<g>{fragment}</g>")  # noqa: S314 - our own picture


def test_a_dimension_across_names_its_length_over_the_middle():
    group = parsed(across(10, 110, -20, 5, from_y=0))
    assert group.find("text").text == "100\u202fmm"
    assert group.find("text").get("x") == "60"
    line = runs_of(group.find("path").get("d"))[0]
    assert line == [(10, -20), (110, -20)]


def test_an_upright_dimension_reads_upwards_beside_its_line():
    group = parsed(upright(0, 40, -15, 5, from_x=0))
    assert group.find("text").text == "40\u202fmm"
    assert "rotate(-90)" in group.find("text").get("transform")
    assert runs_of(group.find("path").get("d"))[0] == [(-15, 0), (-15, 40)]


def test_extension_lines_stay_clear_of_the_part_and_pass_the_dimension_line():
    runs = runs_of(parsed(across(10, 110, -20, 5, from_y=0)).find("path").get("d"))
    assert runs[1] == [(10, -1.5), (10, -21.5)]
    assert runs[2] == [(110, -1.5), (110, -21.5)]


def test_other_words_can_stand_for_the_length():
    assert parsed(across(0, 10, 0, 1, from_y=5, words="⌀ 48.3")).find("text").text == "⌀ 48.3"
