"""The picture of a tube part laid flat: x runs right along the tube, s upwards round it, with sides and cuts named.

The edge at the bottom and the one at the top are the same line of the tube. Plain stretches of long tube are left out
between break lines, which keeps true shapes true.
"""

from collections.abc import Sequence

from nesting.export.rolled import Rolled, Shortened
from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_paths import View, escaped, measure, number, path_data, picture, point, text, text_width
from nesting.export.svg_tube_views import in_words, pin
from nesting.geometry.contour import Contour, Path
from nesting.model.findings import Finding
from nesting.model.part import TubePart
from nesting.units import Mm


def unrolled_svg(part: TubePart, findings: Sequence[Finding] = ()) -> str:
    """The outer surface with both ends and every cut-out; findings with a place are numbered on it."""
    rolled, short = Rolled(part.section.outlines[0]), Shortened.of(part)
    girth, right = rolled.girth, short.length
    letter = 0.045 * max(girth, 0.35 * right)
    body = [_borders(rolled, short)]
    body.append(f'<g class="piece" data-view="unrolled"><path fill="none" d="{path_data(_drawn(part, short))}"/>')
    for cut in part.cut_outs:
        rings = [_moved(contour, short) for contour in cut.contours]
        # What reaches over the line at which the flat surface begins is drawn at both edges.
        over = [ring for ring in rings if ring.bounds.bottom < 0.0 or ring.bounds.top > girth]
        rings += [_lifted(ring, girth if ring.bounds.bottom < 0.0 else -girth) for ring in over]
        body.append(f'<path d="{path_data(rings)}"><title>{escaped(str(cut))}</title></path>')
    body.append("</g>")
    for left, here in short.breaks:
        data = "".join(f"M{point(x, -0.3 * letter)}V{number(-girth - 0.3 * letter)}" for x in (left, here))
        body.append(f'<path class="hidden" d="{data}"/>')
    placed = [(figure, finding, finding.at) for figure, finding in enumerate(findings, 1) if finding.at is not None]
    body += [pin(figure, finding, (short.at(x), s % girth), letter) for figure, finding, (x, s) in placed]
    body.append(across(0.0, right, -2.4 * letter, letter, from_y=0.0, words=measure(part.length)))
    body.append(upright(0.0, girth, -1.4 * letter, letter, from_x=0.0))
    lowest, lines = -3.0 * letter, in_words(part)
    for line in lines:
        lowest -= 1.5 * letter
        body.append(text(0.0, lowest, letter, line, css="start quiet"))
    wide = max([right, *(text_width(line, letter) for line in lines)])
    view = View(-3.2 * letter, lowest - letter, wide + letter, girth + 1.5 * letter)
    words = f"{part.section} laid flat: {measure(part.length)} long, {measure(girth)} round. {'. '.join(lines)}."
    return picture("tube-picture", view, part.name, words, body, role="img")


def _drawn(part: TubePart, short: Shortened) -> list[Path]:
    """Both ends, and the edge along which the surface was opened, at the bottom and at the top."""
    if part.ends is None:
        return []
    paths = [_moved(end.path, short) for end in part.ends]
    start, end = (path.vertices for path in paths)
    for first, last in ((start[0], end[0]), (start[-1], end[-1])):
        stops = [first[0], *(x for pair in short.breaks for x in pair), last[0]]
        paths += [Path(((a, first[1], 0.0), (b, last[1], 0.0))) for a, b in zip(stops[::2], stops[1::2], strict=True)]
    return paths


def _borders(rolled: Rolled, short: Shortened) -> str:
    """Thin lines where flat sides end."""
    data = "".join(
        f"M{point(drawn, s)}H{number(drawn + high - low)}"
        for s in rolled.borders
        for low, high, drawn in short.stretches
    )
    return f'<path class="thin" d="{data}"/>'


def _moved[P: Path](path: P, short: Shortened) -> P:
    return type(path)(tuple((short.at(x), s, bulge) for x, s, bulge in path.vertices))


def _lifted(ring: Contour, way: Mm) -> Contour:
    return Contour(tuple((x, s + way, bulge) for x, s, bulge in ring.vertices))
