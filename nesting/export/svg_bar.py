"""The picture of one bar with its pieces: to scale along the bar, tall enough across it to read.

The bar's front lies left. What is trimmed at the front and what the chuck holds at the far end are hatched. Ends show
their true slope along the bar: it is seen from the front, or from the top where mitres lean that way, or in two rows.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.export.bar_views import Look, looks_at, silhouettes
from nesting.export.pieces import BarPiece, pieces_on_bar
from nesting.export.svg_dimensions import across
from nesting.export.svg_paths import View, escaped, hatching, measure, number, picture, text, text_width
from nesting.export.svg_sheet import TINTS
from nesting.model.nest import BarNest
from nesting.units import Mm


@dataclass(frozen=True)
class Row:
    """One look at the whole bar, and where it stands in the picture."""

    look: Look
    bottom: Mm
    height: Mm


def bar_svg(nest: BarNest, index: int, remnant: Mm | None = None) -> str:
    """The layout at `index` from 0; `remnant` is the length at the far end that goes back to stock.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    layout, bar, pieces = pieces_on_bar(nest, index)
    unit = bar.length / 100.0
    letter = 1.35 * unit
    kinds = {demand.part.name: k for k, demand in enumerate(nest.job.demands)}
    looks = looks_at(pieces)
    tall = 8.0 * unit if len(looks) == 1 else 6.0 * unit
    rows = [Row(look, k * (tall + 1.6 * letter), tall) for k, look in enumerate(reversed(looks))][::-1]
    height = rows[0].bottom + tall
    body = []
    for row in rows:
        body.append(f'<path class="sheet" d="{_box(0.0, row.bottom, bar.length, row.bottom + tall)}"/>')
        if looks != ["front"]:
            words = f"seen from the {row.look}"
            body.append(text(bar.length / 2.0, row.bottom + tall + 0.9 * letter, 0.8 * letter, words, css="quiet"))
        body += _unused(nest, bar.length, row, unit, remnant)
    body += _labels_of_unused(nest, bar.length, height, letter, remnant)
    body += [_piece(piece, kinds[piece.part.name] % TINTS + 1, rows, letter) for piece in pieces]
    body.append(across(0.0, bar.length, -3.4 * letter, letter, from_y=0.0))
    title = f"Bar {index + 1} of {len(nest.layouts)}: {bar.name}"
    view = View(-unit, -4.4 * letter, bar.length + unit, height + 2.2 * letter)
    return picture("bar-picture", view, title, _words(pieces, layout.copies), body)


def _unused(nest: BarNest, length: Mm, row: Row, unit: Mm, remnant: Mm | None) -> list[str]:
    """What of a row is not cut into pieces."""
    rules, body = nest.job.rules, []
    if rules.lead_end:
        body.append(_held(0.0, min(rules.lead_end, length), row, unit))
    if remnant:
        shape = _box(length - remnant, row.bottom, length, row.bottom + row.height)
        body.append(f'<g data-remnant="{number(remnant)}"><path class="remnant" d="{shape}"/></g>')
    if rules.dead_end:
        body.append(_held(max(length - rules.dead_end, 0.0), length, row, unit))
    return body


def _labels_of_unused(nest: BarNest, length: Mm, height: Mm, letter: Mm, remnant: Mm | None) -> list[str]:
    rules, body = nest.job.rules, []
    if rules.lead_end:
        body.append(text(0.0, height + letter, letter, f"trim {measure(rules.lead_end)}", css="start quiet"))
    if remnant:
        body.append(text(length, height + letter, letter, f"remnant {measure(remnant)}", css="end quiet"))
    if rules.dead_end:
        words = f"held by the chuck {measure(rules.dead_end)}"
        body.append(text(length, -letter, letter, words, css="end quiet"))
    return body


def _words(pieces: list[BarPiece], copies: int) -> str:
    counts = Counter(piece.part.name for piece in pieces)
    listed = ", ".join(f"{count} {name}" for name, count in counts.items())
    again = f" To be cut {copies} times." if copies > 1 else ""
    return f"{len(pieces)} pieces from the front: {listed}.{again}" if pieces else "No pieces."


def _box(left: Mm, bottom: Mm, right: Mm, top: Mm) -> str:
    return f"M{number(left)} {number(-bottom)}H{number(right)}V{number(-top)}H{number(left)}Z"


def _held(left: Mm, right: Mm, row: Row, unit: Mm) -> str:
    top = row.bottom + row.height
    return (
        f'<path class="hatch" d="{_box(left, row.bottom, right, top)}{hatching(left, row.bottom, right, top, unit)}"/>'
    )


def _piece(piece: BarPiece, tint: int, rows: Sequence[Row], letter: Mm) -> str:
    name, length, figures = piece.part.name, measure(piece.part.length), str(piece.number)
    shapes = "".join(f'<path d="{_shape(piece, row)}"/>' for row in rows)
    words = "".join(_label(piece, rows[0], letter))
    lie = f", {piece.lie}" if piece.lie else ""
    for row in rows[1:]:
        size = min(letter, 0.9 * piece.part.length / text_width(figures, 1.0))
        words += text((piece.start + piece.end) / 2.0, row.bottom + row.height / 2.0, size, figures)
    return (
        f'<g class="piece k{tint}" data-piece="{figures}" data-part="{escaped(name)}" '
        f'tabindex="{0 if piece.number == 1 else -1}"><title>{figures} {escaped(name)}, {length}{lie}</title>'
        f"{shapes}{words}</g>\n"
    )


def _shape(piece: BarPiece, row: Row) -> str:
    """A box, or what an end's true slope makes of it."""
    near, far = silhouettes(piece, row.look)
    if len(near) == len(far) == 2 and near[0][0] == near[1][0] and far[0][0] == far[1][0]:
        return _box(near[0][0], row.bottom, far[0][0], row.bottom + row.height)
    points = [(x, row.bottom + share * row.height) for x, share in [*near, *reversed(far)]]
    first, *rest = (f"{number(x)} {number(-y)}" for x, y in points)
    return f"M{first}L{'L'.join(rest)}Z"


def _label(piece: BarPiece, row: Row, letter: Mm) -> list[str]:
    """As much of number, name, length and how it lies as there is room for: in lines, else upright, else the number."""
    figures, name, length = str(piece.number), piece.part.name, measure(piece.part.length)
    lie = piece.lie.replace(" about the bar's axis", "")
    middle, width, half = (piece.start + piece.end) / 2.0, 0.92 * piece.part.length, row.bottom + row.height / 2.0
    big = 1.6 * letter
    if text_width(length, letter) <= width and text_width(figures, big) <= width:
        has_lie = lie and text_width(lie, 0.85 * letter) <= width
        half += 0.45 * letter if has_lie else 0.0
        lines = [text(middle, half + 1.6 * letter, big, figures)]
        most = int(len(name) * width / text_width(name, letter))
        short = name if most >= len(name) else name[: most - 1].rstrip() + "…"
        if len(short) > 2:
            lines.append(text(middle, half, letter, short))
        lines.append(text(middle, half - 1.35 * letter, letter, length))
        return [*lines, text(middle, half - 2.5 * letter, 0.85 * letter, lie)] if has_lie else lines
    room = 0.92 * row.height
    size = min(letter, width / 1.1)
    for words in (f"{figures}  {name}  {length}", f"{figures}  {length}"):
        if size >= 0.6 * letter and text_width(words, size) <= room:
            return [text(middle, half, size, words, turn=90.0)]
    if text_width(figures, letter) <= width:
        return [text(middle, half, letter, figures)]
    return [text(middle, half, min(letter, width / 1.1, room / text_width(figures, 1.0)), figures, turn=90.0)]
