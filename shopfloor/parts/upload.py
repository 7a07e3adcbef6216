"""Takes an uploaded file: stores its content once, by hash, and queues its reading."""

import hashlib
import os
import tempfile
from decimal import Decimal
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction

from nesting.units import JOIN, JOIN_WIDE
from shopfloor.base.errors import BadInput
from shopfloor.base.leases import send_soon
from shopfloor.parts.drawing_state import DRAWING_WORK
from shopfloor.parts.models import Drawing

SUFFIXES = (".dxf", ".step", ".stp", ".p21")
UNITS = ("", "mm", "cm", "m", "inch", "foot")
JOINS = (Decimal(str(JOIN)), Decimal(str(JOIN_WIDE)))


def clean_name(name: str) -> str:
    """The file's own name without folders and control characters, at most 180 characters, its ending kept."""
    plain = PurePosixPath(name.replace("\\", "/")).name
    plain = "".join(ch for ch in plain if ch.isprintable()).strip() or "drawing"
    stem, dot, suffix = plain.rpartition(".")
    return plain if len(plain) <= 180 else f"{stem[:160]}{dot}{suffix[:18]}"


def take_file(upload: File, name: str) -> Drawing:
    """The drawing of an uploaded file, new or known; its reading is queued where it was not read before.

    Raises:
        BadInput: the file is empty, too large, or neither DXF nor STEP by its ending.
    """
    name = clean_name(name)
    if not name.lower().endswith(SUFFIXES):
        raise BadInput(f"{name}: only DXF (sheet) and STEP (tube) files are read. Export it as one of these.", "files")
    if upload.size > settings.LARGEST_DRAWING_BYTES:
        most = settings.LARGEST_DRAWING_BYTES // 1024 // 1024
        raise BadInput(f"{name}: {upload.size / 1048576:.0f} MB, at most {most} MB are read. Save it smaller.", "files")
    if not upload.size:
        raise BadInput(f"{name}: the file is empty. Export it again.", "files")
    digest = hashlib.sha256()
    for chunk in upload.chunks():
        digest.update(chunk)
    _store(upload, digest.hexdigest())
    return _drawing(digest.hexdigest(), name, upload.size, "", JOINS[0])


def read_again(drawing: Drawing, *, unit: str | None = None, join_mm: Decimal | None = None) -> Drawing:
    """The same file read with a person's answer: the unit its numbers are in, or a wider joining of loose ends.

    Raises:
        BadInput: a unit or joining that is not offered.
    """
    unit = drawing.unit if unit is None else unit
    join_mm = drawing.join_mm if join_mm is None else join_mm
    if unit not in UNITS:
        raise BadInput(f"The unit must be one of {', '.join(u for u in UNITS if u)}.", "unit")
    if not join_mm.is_finite() or join_mm not in JOINS:
        raise BadInput(f"Ends are joined at {JOINS[0]} or {JOINS[1]} mm.", "join_mm")
    return _drawing(drawing.digest, drawing.name, drawing.size_bytes, unit, join_mm)


def _store(upload: File, digest: str) -> None:
    """Keeps the content under its hash, whole or not at all: a half-written file would be taken for the real one by
    every later upload. Two uploads of one file at once write the same twice.
    """
    target = Path(default_storage.path(stored_name(digest)))
    if target.exists():
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    upload.seek(0)
    with tempfile.NamedTemporaryFile(dir=target.parent, prefix="new-", delete=False) as new:
        try:
            for chunk in upload.chunks():
                new.write(chunk)
            new.flush()
            # On disk before we answer, as the database is: a person may delete their copy once we have answered.
            os.fsync(new.fileno())
            new.close()
            os.chmod(new.name, 0o644)
            os.replace(new.name, target)
        except BaseException:
            new.close()
            os.unlink(new.name)
            raise


def stored_name(digest: str) -> str:
    """The storage name of a file's content."""
    return f"drawings/{digest[:2]}/{digest}"


def stored_path(drawing: Drawing) -> Path:
    """Where the content lies on disk, for the child process that reads it."""
    return Path(default_storage.path(stored_name(drawing.digest)))


@transaction.atomic
def _drawing(digest: str, name: str, size: int, unit: str, join_mm: Decimal) -> Drawing:
    drawing, is_new = Drawing.objects.get_or_create(
        digest=digest, name=name, unit=unit, join_mm=join_mm, defaults={"size_bytes": size}
    )
    if is_new:
        send_soon(DRAWING_WORK, drawing.pk)
    return drawing
