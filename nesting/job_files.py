"""Jobs whose parts stand in part files: each file is read, and its parts take the place of the row that names it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from nesting.errors import BadRecord
from nesting.model.nest import Job
from nesting.model.part import Part
from nesting.model.reading import Reading
from nesting.records.jobs import job_from_record
from nesting.records.parts import part_to_record
from nesting.records.values import Record, as_list, as_object, built, number, text, whole_number
from nesting.route import read_drawing, why_refused
from nesting.units import JOIN


def job_with_files(record: object, folder: Path) -> Job:
    """The job of a job record in which parts may name a `file` beside the job file instead of carrying a shape.

    A row with `file` takes all parts of the file, each as often as the file holds it, or the one that `part` (from 1)
    names; `unit` and `join_mm` answer for a drawing. Its `name` stands for the file's own names.

    Raises:
        BadRecord: with the place in the record and what is needed there; for a file with what was found in it.
    """
    job = dict(as_object(record, "job"))
    rows, further = [], []
    readings: dict[tuple[object, ...], Reading] = {}
    for i, each in enumerate(as_list(job.get("parts"), "job.parts")):
        row = as_object(each, f"job.parts[{i}]")
        if "file" not in row:
            rows.append(row)
            continue
        first, *more = _rows_of_file(row, f"job.parts[{i}]", folder, text(job, "kind", "job"), readings)
        # Further parts go behind all rows, so that places in later complaints are those of the record.
        rows.append(first)
        further += more
    return job_from_record(job | {"parts": [*rows, *further]})


def _rows_of_file(
    row: Mapping[str, Any], where: str, folder: Path, kind: str, readings: dict[tuple[object, ...], Reading]
) -> list[Record]:
    """The row once for each part that it takes from its file, with the part's shape inline."""
    file, unit = text(row, "file", where), text(row, "unit", where, "")
    join = number(row, "join_mm", where, JOIN)
    if "outer" in row or "length_mm" in row:
        raise BadRecord(f"{where}: a part has its shape from a file or inline, not both.")
    if (file, unit, join) not in readings:
        readings[file, unit, join] = built(where, lambda: read_drawing(folder / file, file, unit=unit, join=join))
    reading = readings[file, unit, join]
    if reading.kind == "refused":
        raise BadRecord(f"{where}.file: " + " ".join(why_refused(reading, file)))
    if (reading.kind == "tube") != (kind == "bar"):
        holds = "tube, which is laid on bars" if kind == "sheet" else "parts from sheet, which are not laid on bars"
        raise BadRecord(f"{where}.file: {file} holds {holds}.")
    parts: list[Part] = list(reading.parts)
    times = list(reading.counts)
    if row.get("part") is not None:
        index = whole_number(row, "part", where)
        if not 1 <= index <= len(parts):
            raise BadRecord(f"{where}.part: {file} holds {len(parts)} part(s); there is none numbered {index}.")
        parts, times = [parts[index - 1]], [1]
    own = {key: value for key, value in row.items() if key not in ("file", "part", "unit", "join_mm")}
    rows = []
    for k, part in enumerate(parts, 1):
        name = part.name
        if "name" in row:
            name = text(row, "name", where) + (f"-{k}" if len(parts) > 1 else "")
        rows.append(part_to_record(part) | own | {"name": name})
        if times[k - 1] > 1:
            rows[-1]["count"] = times[k - 1] * whole_number(row, "count", where)
            if row.get("fill_up_to") is not None:
                rows[-1]["fill_up_to"] = times[k - 1] * whole_number(row, "fill_up_to", where)
    return rows
