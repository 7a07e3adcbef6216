"""Files that nobody can use, each made in the place it is asked for: cut off, of another kind, hostile or enormous.

`BAD_FILES` holds one entry for each: the name it is sent under, how it is written, the code of the finding that it must
get, and words that the sentence must hold. None is stored: the large ones are made in a moment.
"""

import gzip
import random
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tests.drawings import add_rectangle, as_bytes, drawing, raw_dxf, tags
from tests.part_files import write_plate


class BadFile(NamedTuple):
    name: str
    write: Callable[[Path], object]
    code: str
    words: str


def noise(count, seed=7):
    return random.Random(seed).randbytes(count)


def content(data):
    """Writes these bytes."""
    return lambda path: path.write_bytes(data() if callable(data) else data)


def line(*numbers):
    return tags(0, "LINE", 8, "0", *(each for pair in zip((10, 20, 11, 21), numbers, strict=True) for each in pair))


def cut_off_drawing():
    document, space = drawing()
    for k in range(40):
        space.add_line((k, 0), (k, 90))
    whole = as_bytes(document)
    return whole[: whole.index(b"AcDbLine", whole.index(b"ENTITIES")) + 600]


def binary_cut_off():
    document, space = drawing()
    add_rectangle(space, 60, 40)
    whole = as_bytes(document, binary=True)
    return whole[: len(whole) // 2]


def many_lines(count):
    """One line after the other in as few bytes as DXF allows."""
    one = b"0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n9\n"
    return b"0\nSECTION\n2\nENTITIES\n" + one * count + b"0\nENDSEC\n0\nEOF\n"


def endless_block(*names):
    """Blocks each of which holds the next, and the last the first."""
    document, space = drawing()
    blocks = [document.blocks.new(name) for name in names]
    for block, inner in zip(blocks, (*names[1:], names[0]), strict=True):
        block.add_line((0, 0), (50, 0))
        block.add_blockref(inner, (10, 0))
    space.add_blockref(names[0], (0, 0))
    return as_bytes(document)


def branching_blocks(depth, arms):
    """Blocks that hold the next one many times: `arms` to the power of `depth` lines from a small file."""
    document, space = drawing()
    for level in range(depth):
        block = document.blocks.new(f"B{level}")
        for k in range(arms):
            if level == depth - 1:
                block.add_line((k, 0), (k, 9))
            else:
                block.add_blockref(f"B{level + 1}", (k, 0))
    space.add_blockref("B0", (0, 0))
    return as_bytes(document)


def block_array(rows, columns):
    document, space = drawing()
    document.blocks.new("HOLE").add_circle((0, 0), 3)
    space.add_blockref(
        "HOLE", (0, 0), dxfattribs={"row_count": rows, "column_count": columns, "row_spacing": 9, "column_spacing": 9}
    )
    return as_bytes(document)


def zip_bomb(path):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for k in range(20):
            archive.writestr(f"sheet{k}.dxf", bytes(5 * 2**20))


def huge(path):
    """100 MB that take no room on the disk."""
    with path.open("wb") as file:
        file.write(b"  0\nSECTION\n  2\nENTITIES\n")
        file.truncate(100 * 2**20)


EMPTY_STEP = (
    b"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    b"FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
)

SQUARE = line(0, 0, 50, 0) + line(50, 0, 50, 50) + line(50, 50, 0, 50) + line(0, 50, 0, 0)

BAD_FILES = {
    "empty drawing": BadFile("gusset.dxf", content(b""), "file-empty", "empty"),
    "empty model": BadFile("post.step", content(b""), "file-empty", "empty"),
    "nothing but blanks": BadFile("gusset.dxf", content(b" \r\n" * 500), "file-empty", "empty"),
    "nothing but zeros": BadFile("post.step", content(bytes(5000)), "file-empty", "empty"),
    "cut off drawing": BadFile("gusset.dxf", content(cut_off_drawing), "file-cut-off", "breaks off"),
    "cut off binary drawing": BadFile("gusset.dxf", content(binary_cut_off), "file-cut-off", "breaks off"),
    "cut off model": BadFile("post.step", content(EMPTY_STEP[:-40]), "file-cut-short", "part of it is missing"),
    "noise as drawing": BadFile("gusset.dxf", content(noise(20_000)), "not-a-drawing", "not a DXF drawing"),
    "noise as model": BadFile("post.stp", content(noise(20_000)), "not-step", "Export the part as STEP"),
    "noise behind a head of binary DXF": BadFile(
        "gusset.dxf", content(b"AutoCAD Binary DXF\r\n\x1a\x00" + noise(20_000)), "file-cut-off", "breaks off"
    ),
    "noise behind a head of binary DXF, with an end": BadFile(
        "gusset.dxf",
        content(b"AutoCAD Binary DXF\r\n\x1a\x00" + noise(20_000) + b"\x00\x00EOF\x00"),
        "file-damaged",
        "the reader says",
    ),
    "noise behind a head of STEP": BadFile(
        "post.step", content(EMPTY_STEP[:-30] + noise(20_000) + EMPTY_STEP[-30:]), "file-damaged", "damaged"
    ),
    "zip bomb as drawing": BadFile("gusset.dxf", zip_bomb, "not-a-drawing", "zip archive"),
    "zip bomb as model": BadFile("post.step", zip_bomb, "not-step", "zip archive"),
    "gzip as model": BadFile("post.step", content(lambda: gzip.compress(bytes(10**7))), "not-step", "gzip"),
    "gzip as drawing": BadFile("gusset.dxf", content(lambda: gzip.compress(bytes(10**7))), "not-a-drawing", "gzip"),
    "model as drawing": BadFile("post.dxf", content(EMPTY_STEP), "not-a-drawing", "STEP model"),
    "drawing as model": BadFile("gusset.step", write_plate, "not-step", "DXF drawing"),
    "100 MB drawing": BadFile("hall.dxf", huge, "file-too-large", "100 MB"),
    "100 MB model": BadFile("hall.step", huge, "file-too-large", "100 MB"),
    "a million lines": BadFile("hall.dxf", content(lambda: many_lines(1_000_000)), "too-many-entities", "200 000"),
    "block in itself": BadFile("hinge.dxf", content(lambda: endless_block("A")), "endless-block", "holds itself"),
    "blocks in a ring": BadFile("hinge.dxf", content(lambda: endless_block("A", "B", "C")), "endless-block", "itself"),
    "a billion lines in blocks": BadFile(
        "hinge.dxf", content(lambda: branching_blocks(9, 10)), "too-many-entities", "blocks"
    ),
    "an array of a billion": BadFile(
        "hinge.dxf", content(lambda: block_array(32000, 32000)), "too-many-entities", "blocks"
    ),
    "a coordinate that is no number": BadFile(
        "hinge.dxf", content(raw_dxf(SQUARE + line("nan", 0, 5, 5)).encode()), "bad-coordinate", "A line on layer"
    ),
    "an infinite coordinate": BadFile(
        "hinge.dxf", content(raw_dxf(SQUARE + line("inf", 0, 5, 5)).encode()), "bad-coordinate", "A line on layer"
    ),
    "a coordinate of 1e300": BadFile(
        "hinge.dxf", content(raw_dxf(SQUARE + line("1e300", 0, 5, 5)).encode()), "bad-coordinate", "A line on layer"
    ),
    "1e308 as a size": BadFile(
        "hinge.dxf",
        content(raw_dxf(SQUARE + tags(0, "CIRCLE", 8, "0", 10, 1, 20, 1, 40, "1e308")).encode()),
        "bad-coordinate",
        "A circle on layer",
    ),
    "a word for a number": BadFile(
        "hinge.dxf", content(raw_dxf(SQUARE + line("five", 0, 5, 5)).encode()), "file-damaged", "near line"
    ),
    "model without a solid": BadFile("post.step", content(EMPTY_STEP), "no-solid", "holds no solid"),
}
