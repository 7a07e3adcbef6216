import math
import re

import pytest

from nesting.drawing.chaining import chained
from nesting.drawing.open_ends import MANY_ENDS, chain_findings
from nesting.drawing.spans import Span
from nesting.model.findings import Severity
from nesting.units import JOIN, JOIN_WIDE


def found(*spans, join=JOIN, layer="0"):
    return chain_findings(chained([(span, layer) for span in spans], join), join)


def square_with_gap(gap, x=0.0):
    """A square of 50 whose left side ends before it reaches the lower left corner."""
    return [
        Span((x, 0), (x + 50, 0)),
        Span((x + 50, 0), (x + 50, 50)),
        Span((x + 50, 50), (x, 50)),
        Span((x, 50), (x, gap)),
    ]


def test_a_closed_contour_is_nothing_to_tell():
    assert found(*square_with_gap(0.0)) == []


def test_what_was_joined_is_told_with_its_count_and_size():
    (joined,) = found(*square_with_gap(0.008), *square_with_gap(0.004, x=100.0))
    assert (joined.code, joined.severity) == ("joined", Severity.NOTE)
    assert joined.message.startswith("2 gaps between line ends were closed; the largest was 0.008 mm (up to 0.01 mm")


@pytest.mark.parametrize("gap", [0.011, 0.05, 0.0999])
def test_a_gap_that_may_be_joined_has_a_code_of_its_own_and_says_its_size(gap):
    (finding,) = found(*square_with_gap(gap))
    assert (finding.code, finding.severity) == ("small-gap", Severity.REFUSAL)
    assert math.dist(finding.at, (0, 0)) <= gap
    shown = re.search(r"is open by (0\.\d+) mm", finding.message)
    assert float(shown.group(1)) == pytest.approx(gap, abs=0.006)
    assert "joined up to 0.1 mm" in finding.message
    assert [each.code for each in found(*square_with_gap(gap), join=JOIN_WIDE)] == ["joined"]


@pytest.mark.parametrize("gap", [0.101, 0.4, 4.9])
def test_a_wider_gap_is_to_be_closed_in_the_drawing(gap):
    for join in (JOIN, JOIN_WIDE):
        (finding,) = found(*square_with_gap(gap), join=join)
        assert (finding.code, finding.severity) == ("open-contour", Severity.REFUSAL)
        assert "joined up to" not in finding.message
        assert "Close it in the drawing" in finding.message


def test_a_line_that_ends_by_itself_is_two_places():
    findings = found(Span((0, 0), (80, 0)), layer="gate")
    assert [each.at for each in findings] == [(0, 0), (80, 0)]
    assert all('A line on layer "gate" ends at' in each.message for each in findings)


def test_the_nearest_other_end_is_named_where_it_is_far():
    findings = found(Span((0, 0), (80, 0)), Span((0, 20), (80, 25)))
    assert {each.code for each in findings} == {"open-contour"}
    assert "the nearest other end is 20.0 mm away" in findings[0].message


def test_the_two_ends_of_one_short_line_are_no_gap():
    findings = found(Span((0, 0), (0.05, 0)))
    assert [each.code for each in findings] == ["open-contour", "open-contour"]
    assert not any("open by" in each.message for each in findings)


def test_a_short_line_between_two_small_gaps_may_be_joined_at_both_ends():
    """Its own other end is nearer than the ends it is to be joined with."""
    spans = [
        Span((0.15, 0), (50, 0)),
        Span((50, 0), (50, 50)),
        Span((50, 50), (-0.09, 0)),
        Span((0.0, 0), (0.06, 0)),
    ]
    assert [each.code for each in found(*spans)] == ["small-gap", "small-gap"]
    assert [each.code for each in found(*spans, join=JOIN_WIDE)] == ["joined"]


def test_of_three_ends_close_together_two_may_be_joined_and_the_third_stays_open():
    spans = [Span((0, 0), (50, 0)), Span((0, 0.03), (0, 50)), Span((-0.08, 0), (-50, 0))]
    near = [each for each in found(*spans) if math.dist(each.at, (0, 0)) < 1.0]
    assert sorted(each.code for each in near) == ["open-contour", "small-gap"]
    joined = chained([(span, "0") for span in spans], JOIN_WIDE)
    assert joined.joined_gaps == [pytest.approx(0.03)]


def test_a_branch_names_its_place_and_how_many_lines_meet():
    branch = next(each for each in found(*square_with_gap(0.0), Span((50, 50), (90, 90))) if each.code == "branch")
    assert (branch.severity, branch.at) == (Severity.REFUSAL, (50, 50))
    assert "At 50.0, 50.0 3 lines meet" in branch.message


def test_many_open_ends_are_taken_for_lettering_but_small_gaps_are_not():
    strokes = [Span((20.0 * k, 0), (20.0 * k, 9)) for k in range(MANY_ENDS)]
    assert [each for each in found(*strokes) if each.code == "open-lines"]
    gaps = [span for k in range(MANY_ENDS + 5) for span in square_with_gap(0.05, x=100.0 * k)]
    assert {each.code for each in found(*gaps)} == {"small-gap"}
