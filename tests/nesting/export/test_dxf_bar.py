import pytest

from nesting.errors import BadValue
from nesting.export.dxf_bar import COLOURS, bar_dxf
from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Demand, Piece
from nesting.model.part import TubePart
from nesting.model.stock import Bar
from tests.mitred import BOX as SQUARE
from tests.mitred import frame_side, mitred, mitred_job
from tests.mitred import nest_of as laid_nest
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


def points_of(cut):
    return [(x, y) for x, y, *_ in cut.get_points()]


@pytest.mark.parametrize(("flipped", "turn"), [(False, 0.0), (True, 0.0), (False, 180.0), (True, 90.0)])
def test_a_piece_is_cut_as_it_lies(flipped, turn):
    part = mitred("half", SQUARE, 600.0, (45.0, 90.0))
    nest = laid_nest(mitred_job((part, 1)), Piece("half", 50.0, flipped, turn))
    near, far = on(read(bar_dxf(nest, 0)), "END_CUTS")
    slanted, straight = (far, near) if flipped else (near, far)
    assert {round(x, 6) for x, _ in points_of(straight)} == {50.0 if flipped else 650.0}
    # Source: by hand: the long point lies in the middle of a side, which is a quarter, half or more of the girth round.
    long = max(points_of(slanted)) if flipped else min(points_of(slanted))
    side = ((180.0 - 90.0 if flipped else 90.0) + turn) % 360.0 / 360.0 * SQUARE.girth
    flat = (SQUARE.width - 2 * SQUARE.corner_radius) / 2.0
    assert long[0] == pytest.approx(650.0 if flipped else 50.0)
    assert abs((long[1] - side + SQUARE.girth / 2) % SQUARE.girth - SQUARE.girth / 2) <= flat + 1e-6
    ways = [y for _, y in points_of(slanted)]
    assert (ways[0], ways[-1]) == pytest.approx((0.0, SQUARE.girth))
    assert ways == sorted(ways)


def test_openings_are_cut_where_a_turned_piece_has_them():
    part = part_of(BOX, cuts=[hole(100.0, TOP)])
    nest = laid_nest(mitred_job((part, 1)), Piece("rail", 20.0, True, 180.0))
    (circle,) = on(read(bar_dxf(nest, 0)), "CUT_OUTS")
    # Source: by hand: 100 mm from the start is 200 mm from the other end, and half a turn takes the top to the bottom.
    assert (circle.dxf.center[0], circle.dxf.center[1]) == pytest.approx((220.0, 3.0 * TOP))


@pytest.mark.parametrize(("shared", "layers"), [(0.4, (2, 1)), (None, (4, 0))])
def test_a_shared_cut_is_one_line_in_the_middle_of_its_kerf(shared, layers):
    rules = BarRules(5.0, shared_cut=shared)
    between = 5.0 if shared is None else shared * 2.0  # at 60° from square
    part = frame_side(angle=60.0)
    start = 600.0 - 40.0 * 3.0**0.5 + between
    nest = laid_nest(mitred_job((part, 2), rules=rules), Piece("side", 0.0), Piece("side", start, False, 180.0))
    document = read(bar_dxf(nest, 0))
    ends, cuts = on(document, "END_CUTS"), on(document, "SHARED_CUTS")
    assert (len(ends), len(cuts)) == layers
    for cut in cuts:
        assert max(x for x, _ in points_of(cut)) == pytest.approx(600.0 + between / 2.0)


def test_a_piece_turned_as_its_section_does_not_allow_has_no_cut_file():
    nest = laid_nest(mitred_job((frame_side(section=BOX), 1)), Piece("side", 0.0, False, 90.0))
    with pytest.raises(BadValue, match="does not lie on itself"):
        bar_dxf(nest, 0)
