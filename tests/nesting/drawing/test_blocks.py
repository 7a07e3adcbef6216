import pytest

from nesting.drawing import blocks as module
from nesting.drawing.blocks import gathered
from nesting.drawing.layers import LayerRules, LayerUse
from nesting.drawing.refusals import StopReading
from nesting.drawing.spans import span_length
from tests.bad_files import branching_blocks, endless_block
from tests.drawings import add_rectangle, codes, drawing, read


def found(document, rules=None, mm=1.0):
    return gathered(document, rules or LayerRules(), mm, "plate.dxf")


def lengths(lines):
    return sorted(round(sum(span_length(span) for span in line.spans), 6) for line in lines)


def with_block(name="CLIP", **attributes):
    """A drawing with one line of 10 mm in a block."""
    document, space = drawing()
    document.blocks.new(name).add_line((0, 0), (10, 0), dxfattribs=attributes)
    return document, space


def test_a_plain_drawing_gives_its_lines_by_use():
    document, space = drawing()
    add_rectangle(space, 60, 40, layer="CUT")
    space.add_line((5, 5), (15, 5), dxfattribs={"layer": "MARK"})
    space.add_line((0, -9), (60, -9), dxfattribs={"layer": "DIM"})
    space.add_text("60")
    seen = found(document)
    assert (lengths(seen.cut), lengths(seen.mark)) == ([200.0], [10.0])
    assert (seen.cut[0].closed, seen.cut[0].layer) == (True, "CUT")
    assert seen.by_rule == {("layer", "DIM"): 1}
    assert seen.not_lines == {"TEXT": 1}
    assert (seen.lowest, seen.highest, seen.findings) == (0.0, 0.0, [])


def test_a_block_comes_as_often_as_it_is_placed_turned_scaled_and_in_the_unit():
    document, space = with_block()
    space.add_blockref("CLIP", (0, 0))
    space.add_blockref("clip", (50, 0), dxfattribs={"rotation": 90, "xscale": 2, "yscale": 2})
    seen = found(document, mm=25.4)
    assert lengths(seen.cut) == [254.0, 508.0]
    (turned,) = [line for line in seen.cut if line.spans[0].start[0] > 1]
    assert turned.spans[0].end == pytest.approx((50 * 25.4, 20 * 25.4))


def test_blocks_in_blocks_work_one_within_the_other():
    document, space = with_block()
    pair = document.blocks.new("PAIR")
    pair.add_blockref("CLIP", (5, 0))
    pair.add_blockref("CLIP", (5, 7), dxfattribs={"xscale": -1})
    space.add_blockref("PAIR", (100, 100), dxfattribs={"rotation": 180})
    starts = sorted(line.spans[0].start for line in found(document).cut)
    # Source: by hand, (5, 0) and (5, 7) turned by half a turn about (100, 100).
    assert starts == [pytest.approx((95.0, 93.0)), pytest.approx((95.0, 100.0))]


def test_rows_of_a_block_are_all_placed():
    document, space = with_block()
    grid = {"row_count": 2, "column_count": 3, "row_spacing": 20, "column_spacing": 15, "rotation": 90}
    space.add_blockref("CLIP", (0, 0), dxfattribs=grid)
    starts = {tuple(round(v, 6) + 0.0 for v in line.spans[0].start) for line in found(document).cut}
    # Source: by hand, columns 0, 15, 30 and rows 0, 20, turned by a quarter about the origin.
    assert starts == {(-row, column) for row in (0.0, 20.0) for column in (0.0, 15.0, 30.0)}


def test_a_block_without_a_place_is_damaged_and_not_put_at_the_origin():
    for extra in ({}, {"row_count": 3, "row_spacing": 5}):
        document, space = with_block()
        insert = space.add_blockref("CLIP", (9, 9), dxfattribs={"layer": "CUT", **extra})
        insert.dxf.discard("insert")
        seen = found(document)
        assert seen.cut == []
        assert [finding.message.split(".")[0] for finding in seen.findings] == ['A block on layer "CUT" is damaged']


def test_layer_nought_colour_and_linetype_by_block_are_those_of_the_reference():
    document, space = drawing()
    block = document.blocks.new("CLIP")
    block.add_line((0, 0), (10, 0), dxfattribs={"layer": "0"})
    block.add_line((0, 0), (20, 0), dxfattribs={"layer": "CUT"})
    space.add_blockref("CLIP", (0, 0), dxfattribs={"layer": "MARK"})
    seen = found(document)
    assert (lengths(seen.cut), lengths(seen.mark)) == ([20.0], [10.0])
    document, space = drawing()
    block = document.blocks.new("CLIP")
    block.add_line((0, 0), (10, 0), dxfattribs={"color": 0})
    block.add_line((0, 0), (20, 0), dxfattribs={"color": 5})
    space.add_blockref("CLIP", (0, 0), dxfattribs={"color": 3})
    rules = LayerRules(colours=((3, LayerUse.MARK), (5, LayerUse.IGNORE)))
    seen = found(document, rules)
    assert (seen.cut, lengths(seen.mark), seen.by_rule) == ([], [10.0], {("colour", "5"): 1})


def test_colour_and_linetype_by_layer_are_those_of_the_layer():
    document, space = drawing()
    document.linetypes.add("HIDDEN", [1.0, 0.5, -0.5])
    document.layers.add("Behind", linetype="HIDDEN", color=3)
    space.add_line((0, 0), (10, 0), dxfattribs={"layer": "BEHIND"})
    space.add_line((0, 0), (20, 0), dxfattribs={"layer": "Behind", "linetype": "Continuous"})
    seen = found(document)
    assert (lengths(seen.cut), seen.by_rule) == ([20.0], {("linetype", "HIDDEN"): 1})
    seen = found(document, LayerRules(colours=((3, LayerUse.MARK),)))
    assert lengths(seen.mark) == [10.0, 20.0]


def test_hidden_layers_and_entities_are_left_out_and_counted():
    document, space = with_block()
    document.layers.add("OFF").off()
    document.layers.add("COLD").freeze()
    space.add_line((0, 0), (10, 0), dxfattribs={"layer": "off"})
    space.add_blockref("CLIP", (0, 0), dxfattribs={"layer": "COLD"})
    space.add_line((0, 0), (10, 0), dxfattribs={"invisible": 1})
    seen = found(document)
    assert (seen.cut, seen.hidden) == ([], {"off": 1, "COLD": 1, "": 1})


def test_blocks_of_other_files_and_without_content_are_named():
    document, space = drawing()
    document.add_xref_def("frame.dxf", "FRAME")
    for name in ("FRAME", "NOWHERE", "NOWHERE"):
        space.add_blockref(name, (0, 0))
    seen = found(document)
    assert (seen.cut, seen.missing_blocks) == ([], {"FRAME": 1, "NOWHERE": 2})


def test_pictures_of_dimensions_and_hatches_are_no_lines():
    document, space = drawing()
    for name in ("*D7", "*X3"):
        document.blocks.new(name).add_line((0, 0), (10, 0))
        space.add_blockref(name, (0, 0))
    seen = found(document)
    assert (seen.cut, seen.not_lines) == ([], {"DIMENSION": 1, "HATCH": 1})


def test_paper_space_is_no_part_of_it():
    document, _ = drawing()
    document.paperspace().add_line((0, 0), (10, 0))
    assert found(document).cut == []


def test_points_and_entities_that_cannot_be_are_told():
    document, space = drawing()
    space.add_line((5, 5), (5, 5))
    space.add_circle((0, 0), 0)
    space.add_line((0, 0), (float("nan"), 0), dxfattribs={"layer": "CUT"})
    space.add_line((0, 0, 0), (10, 0, 8))
    arc = space.add_arc((0, 0), 5, 0, 90)
    arc.dxf.discard("radius")
    seen = found(document)
    assert (seen.cut, seen.zero_length) == ([], 2)
    assert sorted(finding.code for finding in seen.findings) == ["bad-coordinate", "damaged-entity", "not-flat"]


def test_heights_are_gathered():
    document, space = drawing()
    space.add_line((0, 0, 3), (10, 0, 3))
    space.add_line((0, 0, -2), (10, 0, -2))
    assert (found(document).lowest, found(document).highest) == (-2.0, 3.0)


@pytest.mark.parametrize("names", [("A",), ("A", "B"), ("A", "B", "C")])
def test_a_block_that_holds_itself_ends_in_a_sentence_that_names_it(names):
    reading = read(endless_block(*names))
    assert (reading.kind, codes(reading)) == ("refused", ["endless-block"])


def test_blocks_within_blocks_have_a_bound(monkeypatch):
    monkeypatch.setattr(module, "DEEPEST_BLOCK", 3)
    assert codes(read(branching_blocks(3, 1))) != ["endless-block"]
    assert codes(read(branching_blocks(4, 1))) == ["endless-block"]


@pytest.mark.parametrize(("bound", "words"), [("MOST_ENTITIES", "entities once"), ("MOST_SPANS", "lines and arcs")])
def test_what_blocks_unfold_to_has_a_bound(monkeypatch, bound, words):
    monkeypatch.setattr(module, bound, 50)
    reading = read(branching_blocks(3, 4))  # 64 lines
    assert codes(reading) == ["too-many-entities"]
    assert words in reading.findings[0].message


def test_rows_without_end_are_refused_before_the_first_is_placed(monkeypatch):
    monkeypatch.setattr(module, "MOST_ENTITIES", 50)
    document, space = with_block()
    space.add_blockref(
        "CLIP", (0, 0), dxfattribs={"row_count": 30000, "column_count": 30000, "row_spacing": 1, "column_spacing": 1}
    )
    with pytest.raises(StopReading) as stop:
        found(document)
    assert stop.value.finding.code == "too-many-entities"
