"""Reads one drawing into parts through `nesting.route`, which does it in a child process with limits."""

import contextlib
import logging
from dataclasses import replace

from django.db import transaction

from nesting import route
from nesting.model.findings import any_blocks
from nesting.model.part import Part as PartNoun
from nesting.model.part import SheetPart, TubePart
from nesting.model.reading import Reading
from nesting.records.parts import part_to_record, reading_to_record
from shopfloor.base.errors import WrongState
from shopfloor.base.leases import beating, claim
from shopfloor.parts import drawing_state
from shopfloor.parts.drawing_state import DRAWING_WORK
from shopfloor.parts.models import Drawing, Part
from shopfloor.parts.signals import drawing_settled
from shopfloor.parts.upload import stored_path
from shopfloor.stock.models import Kind
from shopfloor.stock.sections import matched_section, section_findings

log = logging.getLogger(__name__)


def read(drawing_id: int) -> None:
    """Reads the drawing if it still waits; whatever happens ends as a state and a sentence on its row."""
    drawing = claim(DRAWING_WORK, drawing_id)
    if drawing is None:
        return
    try:
        with beating(drawing):
            reading = route.read_drawing(
                stored_path(drawing), drawing.name, unit=drawing.unit, join=float(drawing.join_mm)
            )
            pictures = [route.part_picture(part) for part in reading.parts]
            picture = route.reading_picture(reading)
        _save(drawing, reading, picture, pictures)
    except WrongState:
        log.warning("Drawing %s moved on while it was read; this result is dropped.", drawing_id)
    except Exception:  # the task's outer edge: the fault goes onto the row
        log.exception("Reading drawing %s failed.", drawing_id)
        sentence = f"{drawing.name} could not be read because of a fault of the server. Try again."
        with contextlib.suppress(WrongState):
            drawing_state.give_up(drawing, sentence)


def _save(drawing: Drawing, reading: Reading, picture: str, pictures: list[str]) -> None:
    usable = not any_blocks(reading.findings)
    tubes = [part for part in reading.parts if isinstance(part, TubePart)] if usable else []
    reading = replace(reading, findings=(*reading.findings, *section_findings(tubes)))
    record = reading_to_record(reading)
    # The parts stand in rows of their own, and the sketch in the picture.
    stored = {"kind": record["kind"], "unit": record["unit"], "findings": record["findings"]}

    def add_parts(drawing: Drawing) -> None:
        if usable:
            for position, (part, times, drawn) in enumerate(
                zip(reading.parts, reading.counts, pictures, strict=True), 1
            ):
                columns = figures(part) | {"position": position, "times_in_file": times, "picture": drawn}
                Part.objects.create(drawing=drawing, **columns)

    fields = {"kind": reading.kind, "reading": stored, "picture": picture}
    # Whoever waits for the drawing is told within the transaction: a worker that dies here leaves it to be read again.
    with transaction.atomic():
        drawing_state.settle(drawing, usable=usable, fields=fields, work=add_parts)
        drawing_settled.send(sender=Drawing, drawing=drawing)


def figures(part: PartNoun) -> dict[str, object]:
    """The columns of a part row."""
    shared = {
        "name": part.name,
        "shape": part_to_record(part),
        "cut_length_mm": part.cut_length,
        "pierce_count": part.pierce_count,
    }
    if isinstance(part, SheetPart):
        return shared | {
            "kind": Kind.SHEET,
            "length_mm": part.bounds.width,
            "width_mm": part.bounds.height,
            "area_mm2": part.area,
            "hole_count": len(part.holes),
        }
    volume = part.metal_volume if part.metal_volume is not None else part.section.metal_area * part.length
    return shared | {
        "kind": Kind.TUBE,
        "length_mm": part.length,
        "width_mm": part.section.height,
        "volume_mm3": volume,
        "hole_count": part.hole_count,
        "section": matched_section(part.section),
    }
