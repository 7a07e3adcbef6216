"""The sentences about what was left out of a drawing, changed, or could not be used, while its lines were gathered."""

from collections import Counter
from collections.abc import Iterable

from nesting.drawing.biarcs import CURVE
from nesting.drawing.refusals import note, refusal, warning
from nesting.drawing.wording import LONGEST_NAME, called, counted, measure, place, quoted
from nesting.model.findings import Finding
from nesting.units import JOIN, LARGEST_COORDINATE, Mm, Point

KINDS: dict[str, tuple[str, str]] = {
    "LINE": ("line", "lines"),
    "ARC": ("arc", "arcs"),
    "CIRCLE": ("circle", "circles"),
    "ELLIPSE": ("ellipse", "ellipses"),
    "SPLINE": ("spline", "splines"),
    "LWPOLYLINE": ("polyline", "polylines"),
    "POLYLINE": ("polyline", "polylines"),
    "TEXT": ("text", "texts"),
    "MTEXT": ("text", "texts"),
    "ATTRIB": ("text", "texts"),
    "ATTDEF": ("text", "texts"),
    "DIMENSION": ("dimension", "dimensions"),
    "ARC_DIMENSION": ("dimension", "dimensions"),
    "LARGE_RADIAL_DIMENSION": ("dimension", "dimensions"),
    "TOLERANCE": ("tolerance frame", "tolerance frames"),
    "LEADER": ("leader", "leaders"),
    "MULTILEADER": ("leader", "leaders"),
    "MLEADER": ("leader", "leaders"),
    "HATCH": ("hatch", "hatches"),
    "MPOLYGON": ("hatch", "hatches"),
    "SOLID": ("filled area", "filled areas"),
    "TRACE": ("filled area", "filled areas"),
    "WIPEOUT": ("cover", "covers"),
    "IMAGE": ("picture", "pictures"),
    "PDFUNDERLAY": ("picture", "pictures"),
    "DWFUNDERLAY": ("picture", "pictures"),
    "DGNUNDERLAY": ("picture", "pictures"),
    "OLE2FRAME": ("picture", "pictures"),
    "POINT": ("point", "points"),
    "RAY": ("endless line", "endless lines"),
    "XLINE": ("endless line", "endless lines"),
    "MLINE": ("multiple line", "multiple lines"),
    "3DFACE": ("face", "faces"),
    "MESH": ("mesh", "meshes"),
    "3DSOLID": ("solid body", "solid bodies"),
    "BODY": ("solid body", "solid bodies"),
    "REGION": ("region", "regions"),
    "SURFACE": ("surface", "surfaces"),
    "EXTRUDEDSURFACE": ("surface", "surfaces"),
    "LOFTEDSURFACE": ("surface", "surfaces"),
    "REVOLVEDSURFACE": ("surface", "surfaces"),
    "SWEPTSURFACE": ("surface", "surfaces"),
    "HELIX": ("helix", "helices"),
    "ACAD_TABLE": ("table", "tables"),
    "SHAPE": ("symbol", "symbols"),
    "INSERT": ("block", "blocks"),
}
"""Plain words for DXF entity types; what is not here is called by its type."""

BODIES = frozenset(["3DSOLID", "BODY", "REGION", "MESH", "3DFACE", "SURFACE", "EXTRUDEDSURFACE", "LOFTEDSURFACE"])
"""Entities whose presence explains why a drawing has no lines."""

COULD_BE_LINES = frozenset(["MLINE", "REGION", "HELIX"])
"""What may well have been meant to be cut; leaving it out is worth a look."""


MOST_KINDS = 12
"""Kinds of entity named in one sentence; a damaged file may hold any number."""


def kind_of(dxftype: str, count: int = 1) -> str:
    """The plain word for an entity type."""
    name = dxftype[:LONGEST_NAME]
    one, many = KINDS.get(dxftype, (f"entity of type {name}", f"entities of type {name}"))
    return one if count == 1 else many


def _a(dxftype: str) -> str:
    kind = kind_of(dxftype)
    return f"{'An' if kind[0] in 'aeiou' else 'A'} {kind}"


def ignored_entities(not_lines: Counter[str]) -> list[Finding]:
    """What is drawn but is no line, counted by kind."""
    by_word: Counter[tuple[str, str]] = Counter()
    for dxftype, count in not_lines.items():
        by_word[kind_of(dxftype), kind_of(dxftype, 2)] += count
    shown = [counted(count, one, many) for (one, many), count in by_word.most_common() if count]
    if not shown:
        return []
    if len(shown) > MOST_KINDS:
        shown = [*shown[:MOST_KINDS], counted(len(shown) - MOST_KINDS, "other kind")]
    text = f"Left out, because it is not cut: {', '.join(shown)}."
    if COULD_BE_LINES & set(not_lines):
        return [warning("ignored-entities", f"{text} If any of it is to be cut, explode it into lines and arcs.")]
    return [note("ignored-entities", text)]


def ignored_by_rule(by_rule: Counter[tuple[str, str]]) -> list[Finding]:
    """Lines that layer, colour or linetype keep from being cut."""
    findings = []
    for looked_at, code, make, which, why in (
        ("layer", "ignored-layer", note, "on the layer", "layers so named are not cut"),
        ("colour", "ignored-colour", note, "of the colour", "what is drawn so is not cut"),
        ("linetype", "ignored-linetype", warning, "of the linetype", "what is drawn so is not cut"),
    ):
        counts = {value: count for (reason, value), count in by_rule.items() if reason == looked_at}
        if counts:
            lines = counted(sum(counts.values()), "line")
            were = "was" if sum(counts.values()) == 1 else "were"
            plural = "" if len(counts) == 1 else "s"
            message = f"{lines} {which}{plural} {quoted(sorted(counts))} {were} left out, because {why}."
            findings.append(make(code, message))
    return findings


def hidden_entities(hidden: Counter[str]) -> list[Finding]:
    findings = []
    layers = sorted(name for name in hidden if name)
    if layers:
        count = sum(hidden[name] for name in layers)
        message = (
            f"{counted(count, 'entity', 'entities')} on layers that are switched off or frozen ({quoted(layers)}) "
            f"{'was' if count == 1 else 'were'} left out. If it is to be cut, switch the layer on and upload it again."
        )
        findings.append(warning("hidden-layer", message))
    if hidden[""]:
        findings.append(note("invisible", f"{counted(hidden[''], 'invisible entity', 'invisible entities')} left out."))
    return findings


def missing_blocks(missing: Counter[str]) -> list[Finding]:
    if not missing:
        return []
    names = quoted(sorted(missing))
    message = (
        f"The drawing shows the {'block' if len(missing) == 1 else 'blocks'} {names} of another file or without "
        "content, so its lines are missing here. Bind or explode it in the drawing if it is to be cut."
    )
    return [warning("missing-block", message)]


def paper_space(count: int) -> list[Finding]:
    if not count:
        return []
    return [note("paper-space", f"{counted(count, 'entity', 'entities')} on drawing sheets (paper space) left out.")]


def changed_lines(zero_length: int, fitted: int) -> list[Finding]:
    """Lines without length that were removed, and curves that became arcs."""
    findings = []
    if zero_length:
        message = f"{counted(zero_length, 'line')} without length {'was' if zero_length == 1 else 'were'} removed."
        findings.append(note("zero-length", message))
    if fitted:
        curves = counted(fitted, "curve")
        message = f"{curves} (ellipses, splines) became lines and arcs within {measure(CURVE)} of the drawing."
        findings.append(note("curves-fitted", message))
    return findings


def heights(lowest: Mm, highest: Mm) -> list[Finding]:
    """Lines that lie flat but not all at height 0."""
    if lowest > highest or max(abs(lowest), abs(highest)) <= JOIN:
        return []
    if highest - lowest <= JOIN:
        return [note("raised", f"All lines lie at height {lowest:.1f} instead of 0. They are read as if at 0.")]
    message = (
        f"Lines lie at different heights, from {lowest:.1f} to {highest:.1f} mm. They are read as seen from above; "
        "compare the picture with the drawing."
    )
    return [warning("several-heights", message)]


def damaged_entity(dxftype: str, layer: str) -> Finding:
    message = f"{_a(dxftype)} on layer {called(layer)} is damaged. Draw it again and upload the file again."
    return refusal("damaged-entity", message)


def unusable_entity(reason: str, at: Point | None, dxftype: str, layer: str) -> Finding:
    """The sentence for an entity with impossible coordinates, or one that does not lie flat."""
    kind = _a(dxftype)
    where = f" on layer {called(layer)}" + (f" near {place(at)}" if at else "")
    if reason == "not-flat":
        message = f"{kind}{where} does not lie flat. Draw the part in the plane of the drawing and upload it again."
        return refusal("not-flat", message, at)
    fault = (
        "has a coordinate that is not a number"
        if reason == "not-a-number"
        else f"reaches further than {LARGEST_COORDINATE / 1e6:.0f} km from the origin"
    )
    return refusal(
        "bad-coordinate", f"{kind}{where} {fault}. Delete it or draw it again, and upload the file again.", at
    )


def model_space_is_empty(not_lines: Iterable[str], by_rule: Counter[tuple[str, str]], paper_count: int) -> Finding:
    """Why there is nothing to cut, as far as the drawing explains it."""
    text = "Nothing to cut was found in the drawing."
    if by_rule:
        names = quoted(sorted({value for _, value in by_rule}))
        text += (
            f" All its lines are left out by layer, colour or linetype ({names}). Move what is cut to another layer."
        )
    elif BODIES & set(not_lines):
        text += " It holds a solid body. Save the flat outline as lines and upload that."
    elif paper_count:
        text += " There are lines on the drawing sheets (paper space) only. Draw the part in model space."
    else:
        text += " Check that the part's outline is in the file and upload it again."
    return refusal("nothing-to-cut", text)
