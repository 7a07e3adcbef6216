import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.part_finder import found_parts
from nesting.geometry.contour import Contour
from tests.drawings import as_path

box, circle = Contour.rectangle, Contour.circle


def codes(found):
    return [finding.code for finding in found.findings]


def test_a_ring_in_a_ring_is_its_hole_and_the_part_is_moved_to_the_origin():
    found = found_parts([circle(130.0, 45.0, 10.0), box(100.0, 60.0, 80.0, 20.0)], [], "gusset.dxf")
    (part,) = found.parts
    assert (part.name, part.bounds.left, part.bounds.bottom) == ("gusset", 0.0, 0.0)
    (hole,) = part.holes
    assert ((hole.bounds.left + hole.bounds.right) / 2, (hole.bounds.bottom + hole.bounds.top) / 2) == (50.0, 25.0)
    assert codes(found) == []


@given(st.permutations(range(6)))
def test_rings_within_rings_are_outline_and_hole_by_turns_in_any_order(order):
    rings = [box(200.0 - 30.0 * k, 200.0 - 30.0 * k, 15.0 * k, 15.0 * k) for k in range(6)]
    found = found_parts([rings[k] for k in order], [], "target.dxf")
    # Source: by hand, each pair of neighbours is a frame: 200² - 170², 140² - 110², 80² - 50².
    assert [round(part.area) for part in found.parts] == [200**2 - 170**2, 140**2 - 110**2, 80**2 - 50**2]
    assert [len(part.holes) for part in found.parts] == [1, 1, 1]
    assert codes(found).count("part-inside-hole") == 2
    assert "looks-like-frame" in codes(found)


def test_parts_are_numbered_from_left_to_right_and_bottom_to_top():
    rings = [box(10.0, 10.0, 100.0), box(10.0, 10.0, 0.001, 50.0), box(10.0, 20.0, 0.0, 0.0)]
    found = found_parts(rings, [], "clips.dxf")
    assert [part.name for part in found.parts] == ["clips-1", "clips-2", "clips-3"]
    assert [part.bounds.height for part in found.parts] == pytest.approx([20.0, 10.0, 10.0])
    assert codes(found) == ["several-parts"]


@pytest.mark.parametrize(("name", "stem"), [("plate.v2.dxf", "plate.v2"), (" .dxf", "part"), ("", "part"), ("a", "a")])
def test_a_part_is_named_after_its_file(name, stem):
    assert found_parts([box(9.0, 9.0)], [], name).parts[0].name == stem


def test_a_hole_goes_to_the_smallest_ring_round_it_though_bounds_lie_in_others():
    # An L whose bounds hold the square that lies beside it.
    ell = Contour(tuple((x, y, 0.0) for x, y in ((0, 0), (90, 0), (90, 30), (30, 30), (30, 90), (0, 90))))
    found = found_parts([circle(65.0, 65.0, 5.0), box(40.0, 40.0, 45.0, 45.0), ell], [], "pair.dxf")
    assert [len(part.holes) for part in found.parts] == [0, 1]


def test_a_ring_close_inside_an_arc_lies_inside():
    outer, inner = circle(0.0, 0.0, 50.0), circle(0.0, 0.0, 49.99)
    (part,) = found_parts([inner, outer], [], "shim.dxf").parts
    assert len(part.holes) == 1


def test_drawing_dirt_is_left_out_and_told_with_its_place():
    found = found_parts([box(50.0, 50.0), box(0.09, 0.05, 20.0, 30.0)], [], "p.dxf")
    assert (len(found.parts), len(found.parts[0].holes)) == (1, 0)
    (finding,) = found.findings
    assert (finding.code, finding.at, finding.blocks) == ("tiny-contour", (20.0, 30.0), False)
    assert "0.09 mm large at 20.0, 30.0" in finding.message or "0.090 mm large" in finding.message


def test_a_slit_narrower_than_a_cut_stays_and_is_doubted():
    found = found_parts([box(50.0, 50.0), box(30.0, 0.04, 10.0, 20.0)], [], "p.dxf")
    assert len(found.parts[0].holes) == 1
    assert codes(found) == ["narrow-contour"]
    assert codes(found_parts([box(50.0, 50.0), box(30.0, 0.11, 10.0, 20.0)], [], "p.dxf")) == []


def test_marks_go_to_the_part_on_whose_metal_they_lie():
    frame = [box(100.0, 100.0), box(60.0, 60.0, 20.0, 20.0)]
    on_rail, on_inner = as_path((5.0, 5.0), (95.0, 5.0)), as_path((45.0, 50.0), (55.0, 50.0))
    found = found_parts([*frame, box(20.0, 20.0, 40.0, 40.0)], [on_rail, on_inner], "p.dxf")
    assert [len(part.marks) for part in found.parts] == [1, 1]
    assert found.parts[1].marks[0].vertices[0][:2] == (5.0, 10.0)


def test_a_mark_whose_middle_lies_in_a_hole_goes_by_its_ends():
    frame = [box(100.0, 100.0), box(60.0, 60.0, 20.0, 20.0)]
    (part,) = found_parts(frame, [as_path((10.0, 50.0), (90.0, 50.0))], "p.dxf").parts
    assert len(part.marks) == 1


def test_marks_beside_every_part_are_told():
    marks = [as_path((200.0, 5.0), (220.0, 5.0)), as_path((300.0, 5.0), (310.0, 5.0))]
    found = found_parts([box(50.0, 50.0)], marks, "p.dxf")
    (finding,) = found.findings
    assert (finding.code, finding.at) == ("mark-outside", (200.0, 5.0))
    assert finding.message.startswith("2 marking lines lie on no part and were left out")
    assert found.parts[0].marks == ()


@pytest.mark.parametrize(
    ("width", "height", "is_frame"),
    # Source: ISO 216, A3 is 297 x 420 mm and A4 210 x 297 mm.
    [(420.0, 297.0, True), (210.0, 297.0, True), (400.0, 297.0, False)],
)
def test_a_rectangle_of_a_paper_size_round_all_is_doubted(width, height, is_frame):
    found = found_parts([box(width, height), circle(100.0, 100.0, 20.0)], [], "p.dxf")
    assert codes(found) == (["looks-like-frame"] if is_frame else [])
    # A plain plate of that size is a plate.
    assert codes(found_parts([box(width, height)], [], "p.dxf")) == []


def test_nothing_makes_no_parts():
    found = found_parts([], [as_path((0.0, 0.0), (1.0, 1.0))], "p.dxf")
    assert (found.parts, found.findings) == ([], [])
