import pytest

from nesting.errors import BadRecord
from nesting.model.cut_time import CutSpeeds
from nesting.records.speeds import speeds_from_record

SHEET = {"feed_mm_min": 3000, "pierce_s": 0.4, "rapid_mm_min": 60000, "acceleration_mm_s2": 5000}


def test_speeds_come_out_of_their_record():
    assert speeds_from_record(SHEET) == CutSpeeds(3000.0, 0.4, 60000.0, 5000.0)
    tube = SHEET | {"turn_deg_s": 360, "turn_acceleration_deg_s2": 1800}
    assert speeds_from_record(tube) == CutSpeeds(3000.0, 0.4, 60000.0, 5000.0, 360.0, 1800.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"feed_mm_min": None}, r"speeds\.feed_mm_min: a number is needed, but it is missing"),
        ({"feed_mm_min": "fast"}, r"speeds\.feed_mm_min: a number is needed, not 'fast'"),
        ({"feed_mm_min": 0}, r"speeds: CutSpeeds: feed must be above 0"),
        ({"turn_deg_s": -5}, r"speeds: CutSpeeds: turn must be above 0"),
        ({"feed": 3000}, r"speeds: 'feed' is not known here; known are feed_mm_min"),
    ],
)
def test_what_is_no_speed_is_refused_with_its_place(change, words):
    with pytest.raises(BadRecord, match=words):
        speeds_from_record(SHEET | change)


def test_only_an_object_has_speeds():
    with pytest.raises(BadRecord, match="an object is needed"):
        speeds_from_record([3000])
