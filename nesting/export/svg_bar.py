"""The picture of one bar with its pieces: to scale along the bar, tall enough across it to read.

The bar's front lies left. What is trimmed at the front and what the chuck holds at the far end are hatched.
"""

from collections import Counter

from nesting.export.pieces import BarPiece, pieces_on_bar
from nesting.export.svg_dimensions import across
from nesting.export.svg_paths import View, escaped, hatching, measure, number, picture, text, text_width
from nesting.export.svg_sheet import TINTS
from nesting.model.nest import BarNest
from nesting.units import Mm


def bar_svg(nest: BarNest, index: int, remnant: Mm | None = None) -> str:
    """The layout at `index` from 0; `remnant` is the length at the far end that goes back to stock.

    Raises:
        BadValue: there is no such bar, or it names stock or parts that the job does not have.
    """
    layout, bar, pieces = pieces_on_bar(nest, index)
    unit = bar.length / 100.0
    height, letter = 8.0 * unit, 1.35 * unit
    rules = nest.job.rules
    kinds = {demand.part.name: k for k, demand in enumerate(nest.job.demands)}
    body = [f'<path class="sheet" d="{_box(0.0, 0.0, bar.length, height)}"/>']
    if rules.lead_end:
        body.append(_held(0.0, min(rules.lead_end, bar.length), height, unit))
        body.append(text(0.0, height + letter, letter, f"trim {measure(rules.lead_end)}", css="start quiet"))
    if remnant:
        body.append(_remnant(bar.length - remnant, bar.length, height, letter))
    if rules.dead_end:
        body.append(_held(max(bar.length - rules.dead_end, 0.0), bar.length, height, unit))
        words = f"held by the chuck {measure(rules.dead_end)}"
        body.append(text(bar.length, -letter, letter, words, css="end quiet"))
    body += [_piece(piece, kinds[piece.part.name] % TINTS + 1, height, letter) for piece in pieces]
    body.append(across(0.0, bar.length, -3.4 * letter, letter, from_y=0.0))
    title = f"Bar {index + 1} of {len(nest.layouts)}: {bar.name}"
    view = View(-unit, -4.4 * letter, bar.length + unit, height + 2.2 * letter)
    return picture("bar-picture", view, title, _words(pieces, layout.copies), body)


def _words(pieces: list[BarPiece], copies: int) -> str:
    counts = Counter(piece.part.name for piece in pieces)
    listed = ", ".join(f"{count} {name}" for name, count in counts.items())
    again = f" To be cut {copies} times." if copies > 1 else ""
    return f"{len(pieces)} pieces from the front: {listed}.{again}" if pieces else "No pieces."


def _box(left: Mm, bottom: Mm, right: Mm, top: Mm) -> str:
    return f"M{number(left)} {number(-bottom)}H{number(right)}V{number(-top)}H{number(left)}Z"


def _held(left: Mm, right: Mm, height: Mm, unit: Mm) -> str:
    return f'<path class="hatch" d="{_box(left, 0.0, right, height)}{hatching(left, 0.0, right, height, unit)}"/>'


def _remnant(left: Mm, right: Mm, height: Mm, letter: Mm) -> str:
    words = f"remnant {measure(right - left)}"
    label = text(right, height + letter, letter, words, css="end quiet")
    shape = _box(left, 0.0, right, height)
    return f'<g data-remnant="{number(right - left)}"><path class="remnant" d="{shape}"/>{label}</g>'


def _piece(piece: BarPiece, tint: int, height: Mm, letter: Mm) -> str:
    name, length, figures = piece.part.name, measure(piece.part.length), str(piece.number)
    words = "".join(_label(piece, height, letter))
    return (
        f'<g class="piece k{tint}" data-piece="{figures}" data-part="{escaped(name)}" '
        f'tabindex="{0 if piece.number == 1 else -1}"><title>{figures} {escaped(name)}, {length}</title>'
        f'<path d="{_box(piece.start, 0.0, piece.end, height)}"/>{words}</g>\n'
    )


def _label(piece: BarPiece, height: Mm, letter: Mm) -> list[str]:
    """As much of number, name and length as there is room for: in lines, else upright, else the number alone."""
    figures, name, length = str(piece.number), piece.part.name, measure(piece.part.length)
    middle, width, half = (piece.start + piece.end) / 2.0, 0.92 * piece.part.length, height / 2.0
    big = 1.6 * letter
    if text_width(length, letter) <= width and text_width(figures, big) <= width:
        lines = [text(middle, half + 1.7 * letter, big, figures)]
        most = int(len(name) * width / text_width(name, letter))
        short = name if most >= len(name) else name[: most - 1].rstrip() + "…"
        if len(short) > 2:
            lines.append(text(middle, half, letter, short))
        return [*lines, text(middle, half - 1.5 * letter, letter, length)]
    room = 0.92 * height
    size = min(letter, width / 1.1)
    for words in (f"{figures}  {name}  {length}", f"{figures}  {length}"):
        if size >= 0.6 * letter and text_width(words, size) <= room:
            return [text(middle, half, size, words, turn=90.0)]
    if text_width(figures, letter) <= width:
        return [text(middle, half, letter, figures)]
    return [text(middle, half, min(letter, width / 1.1, room / text_width(figures, 1.0)), figures, turn=90.0)]
