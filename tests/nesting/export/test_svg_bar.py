from dataclasses import replace

import pytest
from hypothesis import given, settings

from nesting.errors import BadValue
from nesting.export.svg_bar import bar_svg
from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Demand, Piece
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.model.stock import Bar
from tests.strategies import bar_nests, names
from tests.svg_again import Drawn

BOX = Section.box(60, 40, 3, 6)


RULES = BarRules(5.0, 300.0, 20.0)


def nest_of(*lengths, rules=RULES, name="post", bar=6000.0, copies=1):
    parts = [TubePart(f"{name} {k}", BOX, length) for k, length in enumerate(lengths)]
    start, pieces = rules.lead_end, []
    for part in parts:
        pieces.append(Piece(part.name, start))
        start += part.length + rules.gap
    job = BarJob((Bar("6 m", bar),), rules, tuple(Demand(part, 1) for part in parts))
    return BarNest(job, (BarLayout("6 m", tuple(pieces), copies),))


def spans(made):
    """Start and end of each piece along the bar, from its path M x y H x V y H x Z."""
    found = []
    for group in made.all("g", "piece"):
        data = next(each for each in group if each.tag.endswith("path")).get("d")
        found.append((float(data[1:].split()[0]), float(data.split("H")[1].split("V")[0])))
    return found


@given(bar_nests())
@settings(max_examples=40)
def test_pieces_are_drawn_to_scale_along_the_bar(nest):
    plain = tuple(replace(demand, part=replace(demand.part, ends=None)) for demand in nest.job.demands)
    nest = replace(nest, job=replace(nest.job, demands=plain))
    made = Drawn(bar_svg(nest, 0))
    length = {demand.part.name: demand.part.length for demand in nest.job.demands}
    wanted = [(piece.start, piece.start + length[piece.part]) for piece in nest.layouts[0].pieces]
    for drawn, meant in zip(spans(made), wanted, strict=True):
        assert drawn == pytest.approx(meant, abs=6e-4)


@given(names)
@settings(max_examples=40)
def test_any_name_makes_a_well_formed_picture(name):
    made = Drawn(bar_svg(nest_of(1200.0, name=name), 0))
    assert made.all("g", "piece")[0].get("data-part") == f"{name} 0" or any(
        ord(c) < 32 or ord(c) > 0xFFFD for c in name
    )


def test_a_long_piece_shows_number_name_and_length():
    words = Drawn(bar_svg(nest_of(1234.5), 0)).words()
    assert words[-4:-1] == ["1", "post 0", "1\u202f234.5\u202fmm"]


def test_a_name_too_long_for_its_piece_is_cut_off():
    words = Drawn(bar_svg(nest_of(500.0, name="brace for the long side"), 0)).words()
    assert [word for word in words if word.endswith("…")]
    assert "500\u202fmm" in words


@pytest.mark.parametrize("length", [150.0, 62.5, 12.0, 2.0])
def test_a_short_piece_still_shows_its_number_within_its_width(length):
    made = Drawn(bar_svg(nest_of(length), 0))
    (label,) = [each for each in made.all("g", "piece")[0] if each.tag.endswith("text")]
    assert label.text.split()[0] == "1"
    if label.get("transform"):
        assert float(label.get("font-size")) <= length
    else:
        assert 0.5 * float(label.get("font-size")) * len(label.text) <= length


def test_what_cannot_be_used_is_hatched_and_named():
    made = Drawn(bar_svg(nest_of(1000.0), 0))
    assert len(made.all("path", "hatch")) == 2
    assert "trim 20\u202fmm" in made.words()
    assert "held by the chuck 300\u202fmm" in made.words()


def test_a_bar_without_trim_and_dead_end_has_no_hatching():
    made = Drawn(bar_svg(nest_of(1000.0, rules=BarRules(5.0)), 0))
    assert made.all("path", "hatch") == []


def test_the_remnant_is_shown_with_its_length():
    made = Drawn(bar_svg(nest_of(1000.0), 0, 4975.0))
    (group,) = [each for each in made.all("g") if each.get("data-remnant")]
    assert group.get("data-remnant") == "4975"
    assert "remnant 4\u202f975\u202fmm" in made.words()


def test_title_and_description_say_what_is_on_the_bar():
    made = Drawn(bar_svg(nest_of(1000.0, 900.0, copies=4), 0))
    assert made.root.get("aria-label") == "Bar 1 of 1: 6 m"
    assert made.all("desc")[0].text == "2 pieces from the front: 1 post 0, 1 post 1. To be cut 4 times."


def test_the_bar_is_tall_enough_to_read():
    left, _, width, height = Drawn(bar_svg(nest_of(1000.0), 0)).box
    assert left < 0
    assert 5 < width / height < 12


def test_a_bar_that_is_not_there_is_refused():
    with pytest.raises(BadValue, match="there is none numbered 2"):
        bar_svg(nest_of(1000.0), 1)
