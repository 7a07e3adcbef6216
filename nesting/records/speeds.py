"""The plain form of what a machine does in a material: how fast it cuts, pierces, moves and turns tube."""

from nesting.model.cut_time import CutSpeeds
from nesting.records.values import as_object, built, number, only_known, optional_number

KEYS = ("feed_mm_min", "pierce_s", "rapid_mm_min", "acceleration_mm_s2", "turn_deg_s", "turn_acceleration_deg_s2")
"""The last two are for tube, and may be missing."""


def speeds_from_record(value: object, where: str = "speeds") -> CutSpeeds:
    """The speeds; those for tube may be missing.

    Raises:
        BadRecord: another form, or a speed that is none; the message names the place.
    """
    record = as_object(value, where)
    only_known(record, KEYS, where)
    feed, pierce, rapid, acceleration = (number(record, key, where) for key in KEYS[:4])
    turn, turn_acceleration = (optional_number(record, key, where) for key in KEYS[4:])
    return built(where, lambda: CutSpeeds(feed, pierce, rapid, acceleration, turn, turn_acceleration))
