import pytest

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model.findings import Finding, Severity
from nesting.model.part import SheetPart
from nesting.model.reading import Reading

PLATE = SheetPart("plate", Contour.rectangle(10, 5))
OPEN = Finding("open-contour", Severity.REFUSAL, "The outline is open.", (1.0, 2.0))
JOINED = Finding("joined-ends", Severity.NOTE, "Two ends were joined.")


def test_a_reading_that_notes_only_is_usable():
    assert Reading("sheet", (PLATE,), (JOINED,)).kind == "sheet"


def test_a_refused_reading_may_still_hold_the_parts_that_were_made_out():
    assert Reading("refused", (PLATE,), (OPEN,)).parts == (PLATE,)


def test_a_reading_with_a_blocking_finding_cannot_be_usable():
    with pytest.raises(BadValue, match="kind 'sheet' does not go with its findings"):
        Reading("sheet", (PLATE,), (OPEN,))


def test_a_refused_reading_says_why():
    with pytest.raises(BadValue, match="kind 'refused' does not go with its findings"):
        Reading("refused", (PLATE,), (JOINED,))


def test_a_usable_reading_has_a_part():
    with pytest.raises(BadValue, match="at least one part"):
        Reading("tube")


@pytest.mark.parametrize("counts", [(1, 1), (0,), (-1,)])
def test_counts_go_with_the_parts(counts):
    assert Reading("sheet", (PLATE,)).counts == (1,)
    assert Reading("sheet", (PLATE,), counts=(4,)).counts == (4,)
    with pytest.raises(BadValue, match="counts"):
        Reading("sheet", (PLATE,), counts=counts)
