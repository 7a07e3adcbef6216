"""Reads a STEP file (AP203, AP214, AP242) into tube parts; the geometry kernel runs in a child process with limits.

`read_step` is what the route calls. It never imports the kernel, because hostile and damaged files crash it and the
kernel keeps the interpreter to itself while it works; `read_record` is the same work inside the child.
"""

import importlib.util
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.errors import BadRecord, BadValue, ChildFailed, OutOfMemory, OutOfTime
from nesting.model.findings import Finding, Severity, any_blocks
from nesting.model.part import TubePart
from nesting.model.reading import Reading, ReadingKind
from nesting.records.parts import reading_from_record, reading_to_record
from nesting.sandbox import Limits, run_in_child
from nesting.tube.alike import Use, alike_findings, groups, parts_of
from nesting.tube.recognise import recognise
from nesting.tube.solid import Solid
from nesting.tube.step_text import MOST_FACES, refused, step_text, why_no_solids, why_not_step
from nesting.tube.telling import NAME, told_once

LIMITS = Limits(wall=60.0, cpu=60.0, memory_mb=2048)
"""A usual part takes 1 s and 250 MB; the largest files that are let in took 14 s and 600 MB. Below 1 GB of address
space the kernel does not even load."""

LOADED = ("nesting.tube.recognise", "nesting.tube.kernel")
"""What takes a second to import, and is kept loaded between two files."""

MOST_SOLIDS = 500
"""Solids in one file, each use counted. A larger file is a machine, not a frame of tubes."""

HARMLESS = frozenset({"plate", "block", "bar-solid", "turned", "ball"})
"""What may lie beside tubes in one file without keeping the tubes from being used; it is named and left out."""


def read_step(path: Path, name: str, limits: Limits = LIMITS) -> Reading:
    """What was understood of the file; `name` is what the sender called it. No content makes it raise."""
    fault = why_not_step(path, name)
    if fault is None and importlib.util.find_spec("OCP") is None:
        fault = refused(
            "step-not-installed", f"{name} cannot be read here: Open CASCADE is missing. Install the extra 'step'."
        )
    if fault is not None:
        return Reading("refused", findings=(fault,))
    try:
        request = {"path": str(path.absolute()), "name": name}
        answer = run_in_child("nesting.tube.step_reader:read_record", request, limits, loaded=LOADED)
        return reading_from_record(answer)
    except OutOfTime:
        fault = refused(
            "too-slow",
            f"{name} was not read within {limits.wall:g} s. Export fewer parts, or simpler ones, in one file.",
        )
    except OutOfMemory:
        fault = refused(
            "too-much-memory",
            f"{name} needs more than {limits.memory_mb} MB to read. Export fewer parts, or simpler ones, in one file.",
        )
    except (BadRecord, KeyError, TypeError, IndexError):
        fault = refused("file-damaged", f"{name} made its reader answer nonsense; the file is most likely damaged.")
    except (ChildFailed, BadValue) as failure:
        how = str(failure).rstrip(".")
        fault = refused("file-damaged", f"{name} could not be read; the file is most likely damaged. {how}.")
    return Reading("refused", findings=(fault,))


def read_record(request: dict[str, Any], report: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    """The record of the reading of the file request["path"], called request["name"]; to be run in the sandbox."""
    return reading_to_record(_read(Path(request["path"]), request["name"]))


def _read(path: Path, name: str) -> Reading:
    from nesting.tube.step_solids import load_solids

    text = step_text(path.read_bytes())
    unit = text.units[0] if text.units else ""
    if text.face_count > MOST_FACES * max(1, text.solid_count):
        fault = refused(
            "too-many-faces",
            f"{name} has {text.face_count} faces; at most {MOST_FACES} a solid are looked at. Export the bare tubes.",
        )
        return Reading("refused", findings=(fault,), unit=unit)
    try:
        solids = load_solids(path, Path(name).stem or "part")
    except BadValue as fault:
        return Reading("refused", findings=(refused("file-damaged", f"{name} was not read. {fault}"),), unit=unit)
    missing = why_no_solids(text, name, len({solid.number for solid in solids}))
    if missing is None and not unit:
        missing = refused("unit-unknown", f"{name} names no unit of length. Export it again with a unit (mm or inch).")
    if missing is None and len(solids) > MOST_SOLIDS:
        missing = refused(
            "too-many-solids",
            f"{name} holds {len(solids)} solids; at most {MOST_SOLIDS} are read. Export the tubes alone.",
        )
    if missing is not None:
        return Reading("refused", findings=(missing,), unit=unit)
    uses: list[Use] = []
    said: list[tuple[Use | str, Finding]] = []
    """Each finding with the use of a part that it is of, or the name of a solid that is no part."""
    known: dict[int, tuple[Solid | None, TubePart | None, list[Finding]]] = {}
    for solid in solids:
        # Uses of one solid differ by where they lie only, which nothing here depends on.
        if solid.number not in known:
            known[solid.number] = _recognised(solid.shape)
        measured, part, found = known[solid.number]
        if solid.was_sewn:
            words = f"{NAME} came as loose faces, which were joined; they close without a gap."
            found = [*found, Finding("faces-joined", Severity.NOTE, words)]
        holder: Use | str = solid.name
        if part is not None and measured is not None:
            holder = Use(replace(part, name=solid.name), solid.number, measured)
            uses.append(holder)
        said += [(holder, finding) for finding in found]
    found_groups, mirrored = groups(uses)
    parts = parts_of(found_groups)
    names = {id(use): part.name for group, part in zip(found_groups, parts, strict=True) for use in group}
    if parts:
        said = [(holder, _milder(finding)) for holder, finding in said]
    findings = told_once((holder if isinstance(holder, str) else names[id(holder)], each) for holder, each in said)
    findings += alike_findings(found_groups, mirrored)
    kind: ReadingKind = "refused" if any_blocks(findings) else "tube"
    return Reading(kind, parts, tuple(findings), unit=unit, counts=tuple(len(group) for group in found_groups))


def _recognised(shape: Any) -> tuple[Solid | None, TubePart | None, list[Finding]]:
    """The solid in numbers, the part it is, and what was found, where `NAME` stands for its name."""
    from nesting.tube.measuring import measure

    try:
        measured = measure(shape)
        part, found = recognise(measured, NAME)
    except BadValue as fault:
        return None, None, [refused("solid-unreadable", f"{NAME} was not understood. {fault}")]
    return measured, part, found


def _milder(finding: Finding) -> Finding:
    """Where the file has tubes, what lies beside them is left out with a warning."""
    if finding.code not in HARMLESS or finding.severity is not Severity.REFUSAL:
        return finding
    return Finding(finding.code, Severity.WARNING, f"{finding.message} It is left out.", finding.at)
