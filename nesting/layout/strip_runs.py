"""Requests to the strip library for pieces of a job, and its answers as placements on a sheet."""

from collections.abc import Mapping, Sequence

from nesting.geometry.contour import Bounds
from nesting.layout.measures import Measures
from nesting.model.nest import Placement
from nesting.model.part import Turns
from nesting.records.values import Record, as_list
from nesting.units import Deg, Mm, Seconds


def strip_request(
    measures: Measures,
    names: Sequence[str],
    counts: Mapping[str, int],
    usable: Bounds,
    *,
    gap: Mm,
    target: Mm | None,
    decide: Seconds,
    seed: int,
) -> Record:
    """The request of `nesting.layout.engines.strips`; its items stand in the order of the names."""
    items = []
    for name in names:
        turns = measures.turns[name]
        turns_deg = None if turns == "any" else list(turns)
        items.append({"ring": measures.rings[name], "count": counts[name], "turns_deg": turns_deg})
    return {
        "items": items,
        "height_mm": usable.height,
        "gap_mm": gap,
        "target_mm": target,
        "decide_s": decide,
        "seed": seed,
        "workers": 1,
    }


def placements_of(record: Record, measures: Measures, names: Sequence[str], usable: Bounds) -> list[Placement]:
    """The answer's places on the sheet.

    Raises:
        BadRecord, LookupError, TypeError, ValueError: the answer is not one.
    """
    found = []
    for row in as_list(record.get("places"), "answer.places"):
        index, x, y, turn = row
        name = names[int(index)]
        turn = _allowed(float(turn) % 360.0, measures.turns[name])
        found.append(Placement(name, usable.left + x, usable.bottom + y, turn))
    return found


def _allowed(turn: Deg, turns: Turns) -> Deg:
    """The allowed turn that the library's, which is rounded to single precision, stands for."""
    if turns == "any":
        return turn
    return min(turns, key=lambda each: abs((each - turn + 180.0) % 360.0 - 180.0))
