"""What a STEP file says of itself, read from its text before the geometry kernel sees it.

The kernel answers "done" to files without a single solid and takes any unit for granted, so the number of solids and
the unit are taken from the text, and what is no whole STEP file is refused with the reason.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from nesting.model.findings import Finding, Severity

LARGEST_FILE = 50 * 2**20
"""Bytes. 48 MB took the kernel up to 14 s and 600 MB; single tube parts are far below 1 MB."""

MOST_FACES = 4000
"""A long tube full of holes has some hundred faces; with more than this a solid is a machine or a casting, and a face
with thousands of edges keeps the kernel busy for minutes."""

_HEAD = b"ISO-10303-21;"
_TAIL = b"END-ISO-10303-21;"
_SPACE = b"\xef\xbb\xbf \t\r\n\x00"

_SOLID = re.compile(rb"=\s*\(?\s*(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP)\s*\(")
_FACE = re.compile(rb"=\s*(?:ADVANCED_FACE|FACE_SURFACE)\s*\(")
_SURFACE = re.compile(rb"=\s*(?:SHELL_BASED_SURFACE_MODEL|FACE_BASED_SURFACE_MODEL|GEOMETRIC(?:_CURVE)?_SET)\s*\(")
_MESH = re.compile(rb"=\s*(?:COMPLEX_)?TRIANGULATED_|=\s*TESSELLATED_")
_SI_LENGTH = re.compile(rb"LENGTH_UNIT\s*\(\s*\)[^;]{0,400}?SI_UNIT\s*\(\s*(\$|\.\w+\.)\s*,\s*\.METRE\.|"
                        rb"SI_UNIT\s*\(\s*(\$|\.\w+\.)\s*,\s*\.METRE\.\s*\)[^;]{0,400}?LENGTH_UNIT")  # fmt: skip
_NAMED_LENGTH = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'[^;]{0,400}?LENGTH_UNIT|"
                           rb"LENGTH_UNIT\s*\(\s*\)[^;]{0,400}?CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'")  # fmt: skip
_PREFIXES = {b"$": "m", b".MILLI.": "mm", b".CENTI.": "cm", b".DECI.": "dm", b".MICRO.": "µm", b".KILO.": "km"}

_OTHER_KINDS = (
    (b"PK\x03\x04", "a zip archive; unpack it and load the STEP file in it"),
    (b"\x1f\x8b", "a gzip archive; unpack it and load the STEP file in it"),
    (b"AutoCAD Binary DXF", "a DXF drawing; give it the ending .dxf"),
    (b"%PDF", "a PDF"),
    (b"<?xml", "XML; export it as plain STEP (ISO 10303-21)"),
    (b"\x89PNG", "a picture"),
    (b"solid ", "an STL mesh; export the solid as STEP"),
)


def refused(code: str, message: str) -> Finding:
    return Finding(code, Severity.REFUSAL, message)


def why_not_step(path: Path, name: str) -> Finding | None:
    """Why the file cannot be read as STEP, seen from its size, first and last bytes; None where it looks whole."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(4096).lstrip(_SPACE)
            file.seek(max(0, size - 4096))
            tail = file.read()
    except OSError as fault:
        return refused("file-unreadable", f"{name} could not be opened ({fault.strerror}). Upload it again.")
    if not head:
        return refused("file-empty", f"{name} is empty. Export the part again and upload the new file.")
    if size > LARGEST_FILE:
        return refused(
            "file-too-large",
            f"{name} has {size / 2**20:.0f} MB; at most {LARGEST_FILE // 2**20} MB are read. Export single parts "
            "instead of the whole machine.",
        )
    if not head.startswith(_HEAD):
        kind = next((words for start, words in _OTHER_KINDS if head.startswith(start)), None)
        if kind is None and re.match(rb"(999\s[^\n]*\n\s*)*0\s+SECTION", head):
            kind = "a DXF drawing; give it the ending .dxf"
        found = f"it looks like {kind}" if kind else f"it does not begin with {_HEAD.decode()}"
        advice = "" if kind and ";" in kind else " Export the part as STEP and upload that."
        return refused("not-step", f"{name} is not a STEP file: {found}.{advice}")
    if _TAIL not in tail:
        return refused(
            "file-cut-short",
            f"{name} ends before its last line ({_TAIL.decode()}), so part of it is missing. Export it again.",
        )
    return None


@dataclass(frozen=True)
class StepText:
    """`solid_count` and `face_count` count what the file states; `units` are the length units it names, in order."""

    solid_count: int
    face_count: int
    has_surfaces: bool
    has_mesh: bool
    units: tuple[str, ...]


def step_text(content: bytes) -> StepText:
    units: list[str] = []
    for match in _NAMED_LENGTH.finditer(content):
        name = (match[2] if match[1] is None else match[1]).decode("latin-1").strip().lower()
        units.append({"inches": "inch", "in": "inch", "millimetre": "mm", "foot": "ft"}.get(name, name or "unnamed"))
    if not units:  # a unit of its own is defined on top of a metre, which then is not the file's
        for match in _SI_LENGTH.finditer(content):
            prefix = match[1] or match[2]
            units.append(_PREFIXES.get(prefix, prefix.decode("latin-1").strip(".").lower() + "metre"))
    return StepText(
        len(_SOLID.findall(content)),
        len(_FACE.findall(content)),
        _SURFACE.search(content) is not None,
        _MESH.search(content) is not None,
        tuple(dict.fromkeys(units)),
    )


def why_no_solids(text: StepText, name: str, readable_count: int) -> Finding | None:
    """The finding where fewer solids came out of the kernel than the file states, or none at all."""
    if text.solid_count > readable_count:
        return refused(
            "solids-lost",
            f"{name} states {text.solid_count} solids, but only {readable_count} could be read; the file is damaged. "
            "Export it again.",
        )
    if readable_count:
        return None
    held, remedy = "no solid", "Export the part itself, not only a sketch or an empty assembly."
    if text.has_mesh:
        held, remedy = "a mesh, not a solid", "Export the solid model as STEP."
    elif text.has_surfaces:
        held, remedy = "surfaces or lines, but no closed solid", "Close the model and export it as a solid."
    return refused("no-solid", f"{name} holds {held}. {remedy}")
