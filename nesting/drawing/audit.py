"""What the patient reader of the library had to change in a damaged file, as findings.

It never gives up and never asks: where a number cannot be read it makes one up. That, and a block without end, is
refused here; the rest is told.
"""

import re
from typing import Protocol

from ezdxf.audit import AuditError

from nesting.drawing.refusals import StopReading, note, refusal, warning
from nesting.drawing.wording import called, counted
from nesting.model.findings import Finding
from nesting.units import Point

HARMLESS = frozenset(
    [
        AuditError.MISSING_ENDSEC_TAG,
        AuditError.MISPLACED_ROOT_DICT,
        AuditError.UNDEFINED_DIMENSION_STYLE,
        AuditError.UNDEFINED_TEXT_STYLE,
        AuditError.REMOVE_EMPTY_GROUP,
        AuditError.GROUP_ENTITIES_IN_DIFFERENT_LAYOUTS,
        AuditError.INVALID_TABLE_HANDLE,
        AuditError.DECODING_ERROR,
        AuditError.CREATED_MISSING_OBJECT,
        AuditError.RESET_MLINE_STYLE,
        AuditError.INVALID_GROUP_ENTITIES,
        AuditError.MISSING_PERSISTENT_REACTOR,
        AuditError.INVALID_ENTITY_HANDLE,
        AuditError.INVALID_OWNER_HANDLE,
        AuditError.INVALID_LINEWEIGHT,
        AuditError.INVALID_MLINESTYLE_HANDLE,
        AuditError.INVALID_DIMSTYLE,
        AuditError.INVALID_DICTIONARY_ENTRY,
        AuditError.INVALID_TRANSPARENCY,
    ]
)
"""Repairs that touch no line: styles, handles, tables, lists of objects."""


class AuditEntry(Protocol):
    """One thing that the patient reader noted."""

    code: int
    message: str


def audit_findings(entries: list[AuditEntry], name: str) -> list[Finding]:
    """What the patient reader had to change.

    Raises:
        StopReading: it made up a number, or took out a block that holds itself.
    """
    for entry in entries:
        if entry.code == AuditError.INVALID_BLOCK_REFERENCE_CYCLE:
            raise StopReading(endless_block("", name))
        if entry.code == AuditError.INVALID_FLOATING_POINT_VALUE:
            # It takes "12,5" for 12 and lists good numbers beside bad ones too.
            shown = re.search(r'"(.*)" near line (\d+)', entry.message)
            if shown is None or not _is_number(shown.group(1)):
                where = f" ({shown.group(1)[:20]!r} near line {shown.group(2)})" if shown else ""
                message = (
                    f"{name} holds a coordinate that is not a number{where}. "
                    "Save the drawing again as DXF, with a point in decimal numbers, and upload it."
                )
                raise StopReading(refusal("bad-coordinate", message))
    if not entries:
        return []
    grave = [entry for entry in entries if entry.code not in HARMLESS]
    first = " ".join((grave or entries)[0].message.split())[:120].rstrip(".")
    said = f"{counted(len(grave or entries), 'repair')}, the first: {first}"
    if not grave:
        return [note("file-repaired", f"{name} was repaired on reading; no line was touched ({said}).")]
    message = f"{name} is damaged and was repaired on reading ({said}). Compare the picture with the drawing."
    return [warning("file-repaired", message)]


def endless_block(block: str, name: str, at: Point | None = None) -> Finding:
    """The sentence for a block that is placed inside itself."""
    which = f"The block {called(block)}" if block else "A block"
    message = (
        f"{which} in {name} holds itself, so it has no end. Explode or delete it in the drawing and upload it again."
    )
    return refusal("endless-block", message, at)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
