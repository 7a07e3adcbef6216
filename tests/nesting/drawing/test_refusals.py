from nesting.drawing.refusals import MOST_PER_CODE, StopReading, note, refusal, shortened, warning
from nesting.errors import NestingError
from nesting.model.findings import Severity


def test_the_three_kinds_differ_in_how_grave_they_are():
    made = [make("code", "A sentence.", (1.0, 2.0)) for make in (note, warning, refusal)]
    assert [finding.severity for finding in made] == [Severity.NOTE, Severity.WARNING, Severity.REFUSAL]
    assert [finding.blocks for finding in made] == [False, False, True]
    assert {finding.at for finding in made} == {(1.0, 2.0)}


def test_a_stop_carries_its_finding_and_its_sentence():
    stop = StopReading(refusal("file-empty", "plate.dxf is empty."))
    assert isinstance(stop, NestingError)
    assert (stop.finding.code, str(stop)) == ("file-empty", "plate.dxf is empty.")


def test_a_short_list_is_kept_with_the_gravest_first_and_else_in_order():
    found = [note("a", "1"), refusal("b", "2"), warning("c", "3"), refusal("d", "4"), note("e", "5")]
    assert [finding.message for finding in shortened(found)] == ["2", "4", "3", "1", "5"]
    assert shortened([]) == []


def test_as_many_as_are_shown_get_no_line_that_counts_the_rest():
    found = [refusal("open", str(k)) for k in range(MOST_PER_CODE)]
    assert shortened(found) == found


def test_one_more_and_many_more_are_counted():
    for extra, text in ((1, "1 more place is like these 20."), (300, "300 more places are like these 20.")):
        found = [refusal("open", str(k), (float(k), 0.0)) for k in range(MOST_PER_CODE + extra)]
        kept = shortened([*found, note("other", "last")])
        assert kept[:MOST_PER_CODE] == found[:MOST_PER_CODE]
        assert (kept[MOST_PER_CODE].message, kept[MOST_PER_CODE].at) == (text, None)
        assert kept[MOST_PER_CODE].blocks
        assert kept[-1].code == "other"
        assert len(kept) == MOST_PER_CODE + 2
