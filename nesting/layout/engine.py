"""What every engine must provide, and the messages between an engine and the process that supervises it.

An engine is a function `(request, report) -> answer` that runs in a child process and is named as text, such as
"nesting.layout.engines.irregular:solve_record". All three are JSON objects:

- the request holds `job` (a job record with nothing in it that fits nowhere), `seconds` (its own time limit), `seed`,
  `extra_gap_mm` (to be kept beside the rules' gap and margin, for when a nest has failed its check by a hair) and the
  construction's own options;
- what it reports and answers holds `layouts` (records of sheet or bar layouts, complete or not), in the answer also
  `finished`: true where it ended by itself, so that the same request would give the same answer again.

An engine need not check anything: every layout is checked by its supervisor before anyone sees it. It may crash, hang
or run out of time or memory: the last layouts that it reported count.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from nesting.model.nest import BarJob, BarLayout, SheetJob, SheetLayout
from nesting.records.jobs import job_to_record
from nesting.records.nests import (
    bar_layout_from_record,
    bar_layout_to_record,
    sheet_layout_from_record,
    sheet_layout_to_record,
)
from nesting.records.values import Record, as_list, flag
from nesting.units import Mm, Seconds

type Report = Callable[[Record], None]

EXTRA_GAP: Mm = 0.01
"""By how much gap and margin grow when an engine's nest fails its check: five times what the checker forgives."""

MOST_TRIES = 3
"""How often a construction is started before it is given up: as it is, and with one and two extra gaps."""

CHILD_START: Seconds = 0.35
"""What a child needs to start, to load a solver and to read its job, taken off its own time limit (measured: 0.3)."""

CHILD_MEMORY_MB = 3072
"""Address space of a solver. 5,000 parts took 1,800 MB in its most greedy mode."""


@dataclass(frozen=True)
class Construction:
    """One way to build a nest: the engine's call with options of its own. `name` is what the nest will say made it."""

    name: str
    call: str
    options: Mapping[str, Any] = field(default_factory=dict)

    def request(self, job: SheetJob | BarJob, seconds: Seconds, seed: int, extra_gap: Mm) -> Record:
        return {
            "job": job_to_record(job),
            "seconds": max(0.05, seconds - CHILD_START),
            "seed": seed,
            "extra_gap_mm": extra_gap,
            **self.options,
        }


def sheets_to_record(layouts: Sequence[SheetLayout], *, finished: bool = False) -> Record:
    """What a sheet engine reports and answers."""
    return {"layouts": [sheet_layout_to_record(layout) for layout in layouts], "finished": finished}


def sheets_from_record(record: Record) -> tuple[SheetLayout, ...]:
    layouts = as_list(record.get("layouts"), "answer.layouts")
    return tuple(sheet_layout_from_record(each, f"answer.layouts[{i}]") for i, each in enumerate(layouts))


def bars_to_record(layouts: Sequence[BarLayout], *, finished: bool = False) -> Record:
    """What a bar engine reports and answers."""
    return {"layouts": [bar_layout_to_record(layout) for layout in layouts], "finished": finished}


def bars_from_record(record: Record) -> tuple[BarLayout, ...]:
    layouts = as_list(record.get("layouts"), "answer.layouts")
    return tuple(bar_layout_from_record(each, f"answer.layouts[{i}]") for i, each in enumerate(layouts))


def is_finished(record: Record) -> bool:
    return flag(record, "finished", "answer")
