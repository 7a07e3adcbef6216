"""Good drawings of every version, and the ways in which a seed spoils one: bytes, group codes, values, whole entities.

Equal seeds spoil equally.
"""

import math
import random
import re
import struct
from functools import cache

import ezdxf

from tests.drawings import VERSIONS, add_lines, as_bytes

NASTY = (
    *(
        "nan",
        "inf",
        "-inf",
        "1e300",
        "-1e300",
        "1e-320",
        "0",
        "-1",
        "1e6",
        "99999999999999999999",
        "12,5",
        "",
        " ",
        "x",
    ),
    *("\t", "{", "*D1", "PART", "PLATE", "CUT", "ENDSEC", "EOF", "SECTION", "é", "0.1.2", "70", "1", "65536", "-32769"),
)
"""Values that a damaged or hostile file may hold where a number or name should stand."""

CODES = (
    0,
    1,
    2,
    5,
    8,
    10,
    11,
    20,
    21,
    30,
    39,
    40,
    41,
    42,
    50,
    51,
    62,
    66,
    67,
    70,
    71,
    72,
    73,
    74,
    90,
    91,
    100,
    210,
    230,
)
"""Group codes that mean something in an entity."""

BINARY_HEAD = 22

BINARY_FORMS = (
    *((10, 59, "d"), (110, 149, "d"), (210, 239, "d"), (460, 469, "d"), (1010, 1059, "d")),
    *((60, 79, "h"), (170, 179, "h"), (270, 289, "h"), (370, 389, "h"), (400, 409, "h"), (1060, 1070, "h")),
    *((90, 99, "i"), (420, 429, "i"), (440, 459, "i"), (1071, 1071, "i"), (160, 169, "q"), (290, 299, "b")),
)
"""Group codes whose values are numbers in a binary file, and their form there."""


@cache
def good(version, *, binary):
    """A plate with everything that the reader looks at, in one of the versions."""
    document = ezdxf.new(version, units=4)
    for name in ("CUT", "MARK", "NOTES"):
        document.layers.add(name)
    space = document.modelspace()
    old = version == "R12"
    add_lines(space, [(0, 0), (200, 0), (200, 90)], closed=False, layer="CUT")
    space.add_arc((190, 90), 10, 0, 90, dxfattribs={"layer": "CUT"})
    add_lines(space, [(190, 100), (0, 100), (0, 0)], closed=False, layer="CUT")
    space.add_circle((30, 30), 8, dxfattribs={"layer": "CUT"})
    slot = [(60, 20, 0), (90, 20, 1), (90, 34, 0), (60, 34, 1)]
    inner = document.blocks.new("PART")
    inner.add_circle((0, 0), 3)
    outer = document.blocks.new("PLATE")
    outer.add_blockref("PART", (5, 0), dxfattribs={"rotation": 30})
    outer.add_blockref("PART", (15, 0), dxfattribs={"xscale": -1})
    space.add_blockref("PLATE", (100, 70), dxfattribs={"layer": "CUT", "xscale": 1.5, "yscale": 1.5})
    grid = {"row_count": 2, "column_count": 3, "row_spacing": 12, "column_spacing": 14}
    space.add_blockref("PART", (140, 20), dxfattribs={"layer": "CUT", **grid})
    if old:
        space.add_polyline2d(slot, format="xyb", close=True, dxfattribs={"layer": "CUT"})
    else:
        space.add_lwpolyline(slot, format="xyb", close=True, dxfattribs={"layer": "CUT"})
        space.add_ellipse((40, 70), (15, 0), 0.5, dxfattribs={"layer": "CUT"})
        knots = [(70 + 9 * math.cos(t), 75 + 9 * math.sin(2 * t) / 2 + 6 * math.sin(t)) for t in (0, 1, 2, 3.5, 5)]
        space.add_spline(knots, dxfattribs={"layer": "MARK"})
        space.add_open_spline([(10, 50), (20, 55), (30, 45), (40, 50)], dxfattribs={"layer": "MARK"})
        space.add_mtext("6 mm", dxfattribs={"layer": "NOTES"})
        hatch = space.add_hatch(dxfattribs={"layer": "NOTES"})
        hatch.paths.add_polyline_path([(0, -20), (9, -20), (9, -30)])
    space.add_line((10, 10), (60, 10), dxfattribs={"layer": "MARK"})
    space.add_text("plate", dxfattribs={"layer": "NOTES"}).set_placement((0, -10))
    space.add_point((5, 5), dxfattribs={"layer": "NOTES"})
    return as_bytes(document, binary=binary)


def spoilt(seed):
    """The bytes of a good drawing of some version, spoilt in one to four ways."""
    chance = random.Random(seed)
    version, form = chance.choice(VERSIONS), chance.choice(("ascii", "ascii", "binary", "rewritten"))
    data = good(version, binary=form == "binary")
    ways = BYTES if form == "binary" else TAGS if form == "rewritten" else (*BYTES, *TAGS, *TAGS)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choice(ways)(data, chance)
    return rewritten(data) if form == "rewritten" else data


def rewritten(data):
    """A text file in the binary form, tag by tag, so that its group codes are spoilt and its bytes are sound.

    Source: DXF reference, group code ranges and binary files; codes take two bytes. A value that is no number becomes
    one that is seldom seen.
    """
    out = [b"AutoCAD Binary DXF\r\n\x1a\x00"]
    for code_line, value in _tags(data):
        code = int(code_line) if re.fullmatch(rb"\s*-?\d{1,5}\s*", code_line) else 0
        out.append(struct.pack("<h", max(-32768, min(32767, code))))
        form = next((form for low, high, form in BINARY_FORMS if low <= code <= high), "")
        if not form:
            out.append(value.strip().replace(b"\x00", b"") + b"\x00")
            continue
        try:
            number = float(value) if form == "d" else int(value)
            out.append(struct.pack("<" + form, number))
        except (ValueError, struct.error, OverflowError):
            out.append(struct.pack("<" + form, math.nan if form == "d" else 0x7F))
    return b"".join(out)


# Ways to spoil bytes.


def _where(data, chance):
    """A place in the file; every other time where the entities are."""
    start = max(data.find(b"ENTITIES"), BINARY_HEAD) if chance.random() < 0.7 else BINARY_HEAD
    return chance.randrange(min(start, len(data) - 1), len(data))


def flip_bits(data, chance):
    out = bytearray(data)
    for _ in range(chance.choice((1, 2, 8))):
        out[_where(data, chance)] ^= 1 << chance.randrange(8)
    return bytes(out)


def put_bytes(data, chance):
    at = _where(data, chance)
    return data[:at] + chance.randbytes(chance.choice((1, 2, 3, 8, 40))) + data[at:]


def take_bytes(data, chance):
    at = _where(data, chance)
    return data[:at] + data[at + chance.choice((1, 2, 3, 8, 200)) :]


def set_bytes(data, chance):
    at, count = _where(data, chance), chance.choice((1, 2, 8, 16))
    return data[:at] + bytes([chance.choice((0, 255, 127, 128, 48, 10))]) * count + data[at + count :]


def double_bytes(data, chance):
    at, count = _where(data, chance), chance.choice((4, 50, 700))
    return data[: at + count] + data[at : at + count] + data[at + count :]


BYTES = (flip_bits, put_bytes, take_bytes, set_bytes, double_bytes)


# Ways to spoil group codes and values of text files.


def _tags(data):
    rows = data.split(b"\n")
    return [[rows[i], rows[i + 1]] for i in range(0, len(rows) - 1, 2)]


def _joined(tags):
    return b"".join(code + b"\n" + value + b"\n" for code, value in tags)


def _which(tags, chance, pattern=rb""):
    """The number of a tag, mostly one among the entities, whose code looks so."""
    first = next((i for i, tag in enumerate(tags) if tag[1].strip() == b"ENTITIES"), 0)
    low = first if chance.random() < 0.75 else 0
    fit = [i for i in range(low, len(tags)) if re.fullmatch(pattern or rb".*", tags[i][0].strip())]
    return chance.choice(fit) if fit else chance.randrange(len(tags))


def change_value(data, chance):
    tags = _tags(data)
    tags[_which(tags, chance)][1] = chance.choice(NASTY).encode()
    return _joined(tags)


def change_number(data, chance):
    tags = _tags(data)
    for _ in range(chance.choice((1, 3))):
        tags[_which(tags, chance, rb"[1-9]\d|2[1-3]0")][1] = chance.choice(NASTY).encode()
    return _joined(tags)


def scale_number(data, chance):
    tags = _tags(data)
    tag = tags[_which(tags, chance, rb"[1-5]\d")]
    try:
        tag[1] = repr(float(tag[1]) * chance.choice((-1.0, 1e3, 1e9, 1e-9, 1.0000001))).encode()
    except ValueError:
        tag[1] = b"7"
    return _joined(tags)


def change_code(data, chance):
    tags = _tags(data)
    tags[_which(tags, chance)][0] = f"{chance.choice((*CODES, 999, 1004, -7, 5000))}".encode()
    return _joined(tags)


def take_tag(data, chance):
    tags = _tags(data)
    at = _which(tags, chance)
    return _joined(tags[:at] + tags[at + chance.choice((1, 1, 2, 6)) :])


def double_tag(data, chance):
    tags = _tags(data)
    at, count = _which(tags, chance), chance.choice((1, 2, 20))
    return _joined(tags[: at + count] + tags[at : at + count] + tags[at + count :])


def swap_tags(data, chance):
    tags = _tags(data)
    i, j = _which(tags, chance), _which(tags, chance)
    tags[i], tags[j] = tags[j], tags[i]
    return _joined(tags)


def rename_entity(data, chance):
    tags = _tags(data)
    kinds = (
        b"LINE",
        b"ARC",
        b"CIRCLE",
        b"ELLIPSE",
        b"SPLINE",
        b"LWPOLYLINE",
        b"POLYLINE",
        b"INSERT",
        b"MLINE",
        b"HATCH",
    )
    tags[_which(tags, chance, rb"0")][1] = chance.choice((*kinds, b"ENDSEC", b"SEQEND", b"VERTEX", b"3DSOLID", b"XYZ"))
    return _joined(tags)


TAGS = (
    *(change_value, change_number, change_number, scale_number, change_code),
    *(take_tag, double_tag, swap_tags, rename_entity),
)
