from typing import NamedTuple

import pytest
from ezdxf.audit import AuditError

from nesting.drawing.audit import HARMLESS, audit_findings, endless_block
from nesting.drawing.refusals import StopReading
from tests.drawings import findings, raw_dxf, read, tags

LINE = (0, "LINE", 8, "0")


class Entry(NamedTuple):
    code: int
    message: str = "Set something right."


def square(*, first="0.0"):
    """Four lines as text; the first number is given."""
    rows = [(first, 0, 60, 0), (60, 0, 60, 40), (60, 40, 0, 40), (0, 40, 0, 0)]
    return raw_dxf("".join(tags(*LINE, 10, a, 20, b, 11, c, 21, d) for a, b, c, d in rows))


def test_nothing_repaired_is_nothing_told():
    assert audit_findings([], "plate.dxf") == []


def test_repairs_that_touch_no_line_are_a_note():
    (finding,) = audit_findings([Entry(code) for code in sorted(HARMLESS)], "plate.dxf")
    assert (finding.code, finding.severity.value) == ("file-repaired", "note")
    assert f"no line was touched ({len(HARMLESS)} repairs, the first: Set something right)" in finding.message


def test_one_grave_repair_makes_a_warning_that_counts_the_grave_ones():
    entries = [
        Entry(AuditError.INVALID_LINEWEIGHT),
        Entry(AuditError.DUPLICATE_TABLE_ENTRY_NAME, "Two\n of  one name."),
    ]
    (finding,) = audit_findings(entries, "plate.dxf")
    assert finding.severity.value == "warning"
    assert "(1 repair, the first: Two of one name)" in finding.message


def test_a_block_that_holds_itself_ends_the_reading():
    with pytest.raises(StopReading) as stop:
        audit_findings([Entry(AuditError.INVALID_BLOCK_REFERENCE_CYCLE)], "plate.dxf")
    assert stop.value.finding.code == "endless-block"


@pytest.mark.parametrize("message", ['Invalid float "abc" near line 17', "no place is said"])
def test_a_made_up_number_ends_the_reading(message):
    with pytest.raises(StopReading) as stop:
        audit_findings([Entry(AuditError.INVALID_FLOATING_POINT_VALUE, message)], "plate.dxf")
    finding = stop.value.finding
    assert finding.code == "bad-coordinate"
    assert ("'abc' near line 17" in finding.message) == ("abc" in message)


def test_a_good_number_that_is_listed_with_bad_ones_does_not():
    entry = Entry(AuditError.INVALID_FLOATING_POINT_VALUE, 'Invalid float "12.5" near line 17')
    assert len(audit_findings([entry], "plate.dxf")) == 1


def test_a_block_is_named_where_its_name_is_known():
    assert endless_block("CLIP", "plate.dxf", (1.0, 2.0)).message.startswith(
        'The block "CLIP" in plate.dxf holds itself'
    )
    assert endless_block("", "plate.dxf").message.startswith("A block in plate.dxf holds itself")


@pytest.mark.parametrize("number", ["1O.5", "12,5", "--4", "1e"])
def test_a_drawing_with_a_number_that_is_none_is_never_read_by_a_guess(number):
    reading = read(square(first=number))
    assert reading.kind == "refused"
    (finding,) = findings(reading, "bad-coordinate")
    assert repr(number) in finding.message


def test_the_same_drawing_with_good_numbers_is_read():
    reading = read(square(first="0.0"))
    assert (reading.kind, reading.parts[0].area) == ("sheet", pytest.approx(2400.0))
