"""Mends two faults of DXF files that stop every reader we know, on the raw text and before it is loaded.

Some programs write polylines and splines without one or both of the *subclass markers* (group 100) that have been
demanded since R13, and some end their lines as typewriters did, with a carriage return alone.
"""

import re
from collections.abc import Iterator

MARKERS = {
    b"LWPOLYLINE": b"AcDbPolyline",
    b"SPLINE": b"AcDbSpline",
    b"MTEXT": b"AcDbMText",
    b"LEADER": b"AcDbLeader",
    b"MLINE": b"AcDbMline",
    b"MESH": b"AcDbSubDMesh",
}
"""The entities whose marker is indispensable, and its name."""

COMMON_CODES = frozenset([5, 6, 8, 48, 60, 62, 67, 284, 330, 347, 348, 360, 370, 390, 410, 420, 430, 440])
"""Group codes that every entity has in common and that stand before its own marker."""

type Tag = tuple[int, bytes, bytes]
"""Group code, the line it was written in, and the line of its value."""


def with_line_ends(data: bytes) -> bytes:
    """The file with line ends that readers know; a file that has them is returned as it is."""
    return data.replace(b"\r", b"\n") if b"\n" not in data and b"\r" in data else data


def with_markers(data: bytes) -> tuple[bytes, int]:
    """The ASCII file with missing markers added, and how many entities were given one.

    What cannot be understood as a row of tags is returned as it was.
    """
    mended = 0
    out: list[bytes] = []
    for entity in _entities(data.split(b"\n")):
        marker = MARKERS.get(entity[0][2].strip()) if entity and entity[0][0] == 0 else None
        if marker is None or {b"AcDbEntity", marker} <= {value.strip() for code, _, value in entity if code == 100}:
            tags = entity
        else:
            mended += 1
            tags = _marked(entity, marker)
        for _, code_line, value in tags:
            out += (code_line, value)
    return (_as_r2000(b"\n".join(out) + b"\n"), mended) if mended else (data, 0)


def _as_r2000(data: bytes) -> bytes:
    """The file with a header that lets it hold markers: R12, which a file without a header is taken for, knows none."""
    stated = re.search(rb"\$ACADVER[ \t]*\r?\n[ \t]*1[ \t]*\r?\n[ \t]*(AC\d{4})", data)
    if stated:
        return data if stated.group(1) > b"AC1009" else data[: stated.start(1)] + b"AC1015" + data[stated.end(1) :]
    version = b"  9\n$ACADVER\n  1\nAC1015\n"
    header = re.search(rb"(?m)^[ \t]*2[ \t]*\r?\n[ \t]*HEADER[ \t]*\r?\n", data)
    if header:
        return data[: header.end()] + version + data[header.end() :]
    return b"  0\nSECTION\n  2\nHEADER\n" + version + b"  0\nENDSEC\n" + data


def _entities(lines: list[bytes]) -> Iterator[list[Tag]]:
    """Runs of tags, each beginning with a group code 0 (but for what stands before the first)."""
    run: list[Tag] = []
    for code_line, value in zip(lines[::2], lines[1::2], strict=False):
        code = int(code_line) if re.fullmatch(rb"\s*-?\d{1,5}\s*", code_line) else -1
        if code == 0 and run:
            yield run
            run = []
        run.append((code, code_line, value))
    if run:
        yield run


def _marked(entity: list[Tag], marker: bytes) -> list[Tag]:
    common = [tag for tag in entity[1:] if tag[0] in COMMON_CODES]
    own = [tag for tag in entity[1:] if tag[0] not in COMMON_CODES and tag[0] != 100]
    first = (100, b"100", b"AcDbEntity")
    return [entity[0], first, *common, (100, b"100", marker), *own]
