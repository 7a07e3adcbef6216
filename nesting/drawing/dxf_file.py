"""Opens a DXF file, or says in a sentence why it cannot be opened.

Looks at the raw bytes first, so that a wrong, cut off or enormous file is refused before a library labours over it.
Then loads it the plain way, and where that fails the patient way, after mending what is known to stop both.
"""

import io
import logging
import re
import struct
from dataclasses import dataclass
from pathlib import Path

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError

from nesting.drawing.audit import audit_findings
from nesting.drawing.dxf_repair import with_line_ends, with_markers
from nesting.drawing.refusals import StopReading, refusal, warning
from nesting.drawing.wording import counted
from nesting.model.findings import Finding

# Without a handler of its own the library's log would go to the standard error stream; we ask its audit instead.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

MOST_BYTES = 50 * 2**20
"""A part drawing of a megabyte is rare; 50 MB is a whole building, or something else with the wrong ending."""

MOST_ENTITIES = 200_000
"""More lines than any sheet holds; loading that many takes about 15 s."""

MOST_POINTS = 500_000
"""The same bound for the points of polylines and splines."""

LOADING_FAULTS = (
    DXFError,
    ValueError,
    TypeError,
    LookupError,
    AttributeError,
    ArithmeticError,
    AssertionError,
    EOFError,
    OSError,
    RecursionError,
    StopIteration,
    struct.error,
)
"""What the library raises on damaged files: its own exceptions, and whatever a wrong value does deep inside it."""

OTHER_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a zip archive", "Unpack it and upload the drawings in it one by one."),
    (b"PK\x05\x06", "an empty zip archive", "Upload the drawings themselves."),
    (b"\x1f\x8b", "a gzip archive", "Unpack it and upload the drawing in it."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it and upload the drawings in it one by one."),
    (b"Rar!", "a rar archive", "Unpack it and upload the drawings in it one by one."),
    (b"ISO-10303-21", "a STEP model", "Rename it to end in .step and upload it again."),
    (b"AC10", "a DWG drawing", "Save it as DXF and upload that."),
    (b"%PDF", "a PDF document", "Ask for the drawing as DXF and upload that."),
    (b"\x89PNG", "a picture", "Ask for the drawing as DXF and upload that."),
    (b"\xff\xd8\xff", "a picture", "Ask for the drawing as DXF and upload that."),
    (b"GIF8", "a picture", "Ask for the drawing as DXF and upload that."),
    (b"<", "a web page or an SVG picture", "Ask for the drawing as DXF and upload that."),
    (b"\xff\xfe", "a text in a 16-bit code", "Save it as plain DXF and upload that."),
    (b"solid ", "an STL model", "Ask for the flat outline as DXF and upload that."),
)
"""First bytes of files that often come with the wrong ending, what they are, and what to do."""


@dataclass(frozen=True)
class OpenedFile:
    """A loaded drawing, its raw bytes, and what had to be mended to load it."""

    drawing: Drawing
    data: bytes
    findings: tuple[Finding, ...] = ()


def opened(path: Path, name: str) -> OpenedFile:
    """The file loaded.

    Raises:
        StopReading: it is no DXF drawing, too large, cut off, or damaged beyond repair.
    """
    data, findings = _checked_bytes(path, name)
    binary = is_binary(data)
    _check_counts(data if binary else with_line_ends(data), name)
    try:
        if b"\n" in data[:4096] or binary:
            return OpenedFile(_whole(readfile(str(path))), data, tuple(findings))
    except LOADING_FAULTS as fault:
        if binary:
            raise StopReading(_damaged(name, fault)) from fault
    mended, marked_count = with_markers(with_line_ends(data))
    try:
        drawing, audit = recover.read(io.BytesIO(mended))
        _whole(drawing)
    except LOADING_FAULTS as fault:
        raise StopReading(_damaged(name, fault)) from fault
    if marked_count:
        many = counted(marked_count, "polyline or spline", "polylines or splines")
        findings.append(warning("file-repaired", f"{many} lacked a marker that DXF demands; it was added on reading."))
    findings += audit_findings([*audit.errors, *audit.fixes], name)
    return OpenedFile(drawing, mended, tuple(findings))


def _whole(drawing: Drawing) -> Drawing:
    """The drawing, after a look at what is only found out when it is asked for: that it has a model space."""
    drawing.modelspace()
    return drawing


def is_binary(data: bytes) -> bool:
    """Whether this is the binary form of DXF."""
    return b"Binary DXF\r\n\x1a\x00" in data[:22]


def _checked_bytes(path: Path, name: str) -> tuple[bytes, list[Finding]]:
    try:
        byte_count = path.stat().st_size
        if byte_count > MOST_BYTES:
            message = (
                f"{name} has {byte_count / 2**20:.0f} MB; drawings of up to {MOST_BYTES // 2**20} MB are read. "
                "Save the part alone and upload it again."
            )
            raise StopReading(refusal("file-too-large", message))
        data = path.read_bytes()
    except OSError as fault:
        raise StopReading(refusal("file-unreadable", f"{name} could not be opened. Upload it again.")) from fault
    if not data.strip(b"\x00 \t\r\n"):
        raise StopReading(refusal("file-empty", f"{name} is empty. Save the drawing and upload it again."))
    if is_binary(data):
        return data, _complete(data.rstrip(b"\x00 \r\n").endswith(b"EOF"), False, name)
    start = data.lstrip(b"\xef\xbb\xbf \t\r\n")
    for magic, kind, advice in OTHER_KINDS:
        if start.startswith(magic):
            raise StopReading(refusal("not-a-drawing", f"{name} is {kind}, not a DXF drawing. {advice}"))
    text = with_line_ends(data)
    if not re.search(rb"(?m)^[ \t]*0[ \t]*\r?\n[ \t]*SECTION[ \t]*\r?$", text[:65536]):
        message = f"{name} is not a DXF drawing, or it is damaged from the start. Save it as DXF and upload it again."
        raise StopReading(refusal("not-a-drawing", message))
    has_end = re.search(rb"(?m)^[ \t]*0[ \t]*\r?\n[ \t]*EOF[ \t]*\r?$", text[-4096:]) is not None
    entities = re.search(rb"(?m)^[ \t]*2[ \t]*\r?\n[ \t]*ENTITIES[ \t]*\r?$", text)
    has_entities = entities is not None and re.search(rb"\n[ \t]*ENDSEC[ \t]*\r?\n", text[entities.end() :]) is not None
    return data, _complete(has_end, has_entities, name)


def _complete(has_end: bool, has_entities: bool, name: str) -> list[Finding]:
    """Nothing, or a warning where only what follows the lines is missing.

    Raises:
        StopReading: lines may be missing.
    """
    if has_end:
        return []
    if has_entities:
        message = f"The end of {name} is missing, but all its lines are there. Compare the picture with the drawing."
        return [warning("file-cut-off", message)]
    message = f"{name} breaks off in the middle, so lines may be missing. Save the drawing and upload it again."
    raise StopReading(refusal("file-cut-off", message))


def _check_counts(data: bytes, name: str) -> None:
    """Raises:
    StopReading: the file holds more entities or points than are read.
    """
    if is_binary(data):
        entity = re.compile(rb"\x00\x00?(?!VERTEX\x00|SEQEND\x00)[A-Z][A-Z0-9_]{2,}\x00")
        point = re.compile(rb"\x0a\x00.{8}\x14\x00", re.DOTALL)
    else:
        entity = re.compile(rb"(?m)^[ \t]*0[ \t]*[\r\n]+[ \t]*(?!VERTEX|SEQEND)[A-Z]")
        point = re.compile(rb"(?m)^[ \t]*10[ \t]*\r?$")
    for pattern, most, noun in ((entity, MOST_ENTITIES, "entities"), (point, MOST_POINTS, "points")):
        for count, _ in enumerate(pattern.finditer(data), start=1):
            if count > most:
                raise StopReading(too_many(name, most, noun))


def too_many(name: str, most: int, noun: str) -> Finding:
    count = f"{most:,}".replace(",", " ")
    message = (
        f"{name} holds more than {count} {noun}, which is far more than a part from sheet needs. "
        "Delete what is not to be cut and upload it again."
    )
    return refusal("too-many-entities", message)


def _damaged(name: str, fault: BaseException) -> Finding:
    said = " ".join(str(fault).split())[:120]
    detail = f" (the reader says: {said.rstrip('.')})" if said else ""
    advice = "Open it in the program it was drawn with, save it as DXF and upload it again."
    return refusal("file-damaged", f"{name} is damaged and could not be read{detail}. {advice}")
