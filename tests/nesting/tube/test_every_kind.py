"""The reader against the truth about generated parts of every kind.

Which end of a model is its start, and which of like sides is up, no model says; so the truth is compared turned and end
for end, with all of its cuts at once.
"""

import math

import pytest

from nesting.records.parts import section_to_record
from tests.tube_fixtures import FIXTURES

NEAR = 2e-3
"""Places and sizes over corners, from free-form surfaces, in millimetres and degrees."""


def turns_apart(first, second):
    return abs((first - second + 180.0) % 360.0 - 180.0)


def moved(truth, turn, is_swapped):
    """The truth of the part turned about its axis, and then end for end about its height."""

    def way(towards):
        return ((180.0 - towards if is_swapped else towards) + turn) % 360.0

    def cut(record):
        own = dict(record)
        if is_swapped and "x_mm" in own:
            own["x_mm"] = truth["length_mm"] - own["x_mm"]
        if "towards_deg" in own:
            own["towards_deg"] = way(own["towards_deg"])
        return own

    ends = [cut(end) for end in truth["ends"]]
    return ends[::-1] if is_swapped else ends, [cut(record) for record in truth["cut_outs"]]


def is_like(record, cut):
    names = {"angle_deg": "angle", "diameter_mm": "diameter", "x_mm": "x"}
    if cut.kind != record["kind"]:
        return False
    if "towards_deg" in record and turns_apart(record["towards_deg"], cut.towards) > NEAR:
        return False
    if "offset_mm" in record and abs(abs(cut.offset) - record["offset_mm"]) > NEAR:
        return False
    return all(abs(record[key] - getattr(cut, name)) < NEAR for key, name in names.items() if key in record)


def each_has_its_own(records, cuts):
    free = list(cuts)
    for record in records:
        found = next((cut for cut in free if is_like(record, cut)), None)
        if found is None:
            return False
        free.remove(found)
    return not free


def possible_turns(truth, part):
    """Quarter turns, and those that bring the first told direction onto one that was read."""
    told = [r["towards_deg"] for r in (*truth["ends"], *truth["cut_outs"]) if "towards_deg" in r]
    read = [cut.towards for cut in (*part.ends, *part.cut_outs)]
    turns = {0.0, 90.0, 180.0, 270.0} | {round(there - here, 9) for here in told[:1] for there in read}
    return turns | {round(there - 180.0 + here, 9) for here in told[:1] for there in read}


def test_there_are_enough_of_every_kind():
    assert len(FIXTURES) >= 60
    assert {fixture.unit for fixture in FIXTURES} == {"mm", "inch", "m"}
    assert len({fixture.tube.section.shape for fixture in FIXTURES}) == 11
    assert len({fixture.name for fixture in FIXTURES}) == len(FIXTURES)


@pytest.mark.parametrize("fixture", FIXTURES, ids=lambda fixture: fixture.name)
def test_a_part_is_read_as_it_was_made(fixture, tmp_path, read_file):
    truth = fixture.truth
    reading = read_file(fixture.write(tmp_path / f"{fixture.name}.step"))
    assert (reading.kind, reading.unit, len(reading.parts)) == ("tube", fixture.unit, 1)
    (part,) = reading.parts
    assert part.length == pytest.approx(truth["length_mm"], abs=1e-4 if fixture.change else 1e-6)
    read, made = section_to_record(part.section), truth["section"]
    assert read.pop("shape") == made.pop("shape")
    assert read == pytest.approx(made, abs=1e-4 if fixture.change else 1e-6)
    assert part.hole_count == len(truth["cut_outs"])
    ways = [moved(truth, turn, swapped) for turn in possible_turns(truth, part) for swapped in (False, True)]
    fitting = [
        True for ends, cuts in ways if all(map(is_like, ends, part.ends)) and each_has_its_own(cuts, part.cut_outs)
    ]
    assert fitting, ([str(c) for c in (*part.ends, *part.cut_outs)], truth)
    for end in part.ends:
        assert end.path.vertices[-1][1] - end.path.vertices[0][1] == pytest.approx(part.section.girth, abs=1e-4)
    assert math.isclose(part.ends[0].path.vertices[0][1], 0.0, abs_tol=1e-4)
