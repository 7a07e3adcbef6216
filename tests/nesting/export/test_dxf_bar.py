import pytest

from nesting.errors import BadValue
from nesting.export.dxf_bar import COLOURS, bar_dxf
from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Demand, Piece
from nesting.model.part import TubePart
from nesting.model.stock import Bar
from tests.nesting.export.test_dxf_writer import read
from tests.nesting.export.test_svg_tube_views import BOX, TOP, hole, part_of

STARTS = (20.0, 330.0)


def nest_of(part, starts=STARTS):
    job = BarJob((Bar("6 m", 6000.0),), BarRules(), (Demand(part, len(starts)),))
    return BarNest(job, (BarLayout("6 m", tuple(Piece(part.name, start) for start in starts)),))


def on(document, layer):
    return list(document.modelspace().query(f'*[layer=="{layer}"]'))


def test_a_bar_is_written_flat_with_its_pieces_in_order():
    document = read(bar_dxf(nest_of(part_of(BOX, cuts=[hole(100.0, TOP)], mitre=True)), 0))
    assert document.units == 4  # Source: DXF reference, header $INSUNITS, 4 is millimetres
    assert document.audit().errors == []
    (edge,) = on(document, "BAR_EDGE")
    xs, ys = zip(*((x, y) for x, y, *_ in edge.get_points()), strict=True)
    assert (max(xs), max(ys)) == pytest.approx((6000.0, BOX.girth))
    circles = on(document, "CUT_OUTS")
    assert [(c.dxftype(), c.dxf.center[0], c.dxf.radius) for c in circles] == [
        ("CIRCLE", pytest.approx(start + 100.0), pytest.approx(6.0)) for start in STARTS
    ]  # fmt: skip
    assert [label.dxf.text for label in on(document, "LABELS")] == ["1 rail", "2 rail"]


def test_each_piece_has_both_its_ends_once_round_and_open():
    part = part_of(BOX, mitre=True)
    cuts = on(read(bar_dxf(nest_of(part), 0)), "END_CUTS")
    assert len(cuts) == 4
    assert not any(cut.closed for cut in cuts)
    for start, first, last in zip(STARTS, cuts[::2], cuts[1::2], strict=True):
        for drawn, end in ((first, part.ends[0]), (last, part.ends[1])):
            points = [(x - start, y, bulge) for x, y, _, _, bulge in drawn.get_points()]
            assert points == [pytest.approx(vertex, abs=1e-9) for vertex in end.path.vertices]


def test_layers_are_those_of_the_cuts_and_equal_nests_give_equal_files():
    nest = nest_of(part_of(BOX))
    assert bar_dxf(nest, 0) == bar_dxf(nest, 0)
    assert set(COLOURS) <= {layer.dxf.name for layer in read(bar_dxf(nest, 0)).layers}


def test_a_part_of_which_only_the_length_is_known_has_no_cut_file():
    with pytest.raises(BadValue, match="the end cuts of post are not known"):
        bar_dxf(nest_of(TubePart("post", BOX, 300.0)), 0)
