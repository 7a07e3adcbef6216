"""Draws how the constructions of the sheet engine race: `python -m tests.bench race [JOB] --out race.svg`.

Two lanes show what each core was given and when; below them the span of the best nest so far falls. Without a job, the
200 parts of ten kinds of the tests are laid.
"""

import json
import time
from pathlib import Path
from xml.sax.saxutils import escape

from nesting.layout.engine import sheets_from_record
from nesting.layout.engines import full_sheets
from nesting.layout.score import Extents, score_sheets
from nesting.layout.sides import without_sides
from nesting.layout.solvers import Solvers
from nesting.layout.survey import survey
from nesting.model.nest import SheetNest
from nesting.records.jobs import job_from_record
from tests.shop_parts import two_hundred_parts

WIDTH, LEFT, LANE, CURVE = 900, 90, 34, 150

COLOURS = {
    "windows filled": "#7a5c9e",
    "all at once, by the packing library": "#8a8174",
    "a full sheet, by the strip library": "#2f6f8f",
    "what a full sheet leaves open": "#c2802e",
    "more on a full sheet": "#3f8a5f",
    "the last sheet": "#b3543f",
}


def add_to(parsers):
    race = parsers.add_parser("race", help="draws how the constructions race")
    race.add_argument("job", type=Path, nargs="?", help="a job file")
    race.add_argument("--seconds", type=float, default=20.0)
    race.add_argument("--seed", type=int, default=1)
    race.add_argument("--out", type=Path, default=Path("race.svg"))
    race.set_defaults(run=run)


def run(given):
    job = two_hundred_parts() if given.job is None else job_from_record(json.loads(given.job.read_text()))
    job = survey(without_sides(job)).job
    runs, best = watched(job, given.seconds, given.seed)
    given.out.write_text(picture(runs, best, given.seconds))
    print(f"{given.out}: {len(runs)} runs, {len(best)} better nests, span {best[-1][1]:.0f} mm")
    return 0


def watched(job, seconds, seed):
    """What ran from when to when on which lane, and the spans of better nests with their times."""
    runs, best, started_at = [], [], time.monotonic()
    extents, length = Extents(job), job.stock[0].outline.bounds.width

    class Watched(Solvers):
        def start(self, call, request, limit, purpose):
            lane = min({0, 1} - {row["lane"] for row in runs if row["end"] is None}, default=1)
            run = super().start(call, request, limit, purpose)
            runs.append({"lane": lane, "kind": kind_of(purpose), "start": since(), "end": None, "run": run})
            return run

        def wait(self, limit):
            said = super().wait(limit)
            for each in said:
                if each.is_last:
                    next(row for row in runs if row["run"] is each.run)["end"] = since()
            return said

    def since():
        return time.monotonic() - started_at

    def report(record):
        nest = SheetNest(job, sheets_from_record(record))
        sheets = sum(layout.copies for layout in nest.layouts)
        best.append((since(), (sheets - 1) * length + score_sheets(nest, extents).rest))

    plain, full_sheets.Solvers = full_sheets.Solvers, Watched
    try:
        full_sheets.FullSheets(job, report, seconds=seconds, seed=seed, extra_gap=0.0).run()
    finally:
        full_sheets.Solvers = plain
    for row in runs:
        row["end"] = row["end"] or since()
    return runs, best


def kind_of(purpose):
    names = list(COLOURS)
    match type(purpose).__name__:
        case "Windows":
            return names[0]
        case "Rival":
            return names[1]
        case "Filler":
            return names[3]
    if purpose.is_last:
        return names[5]
    return names[2] if purpose.sheet is None else names[4]


def picture(runs, best, seconds):
    def x(at):
        return LEFT + at / seconds * (WIDTH - LEFT - 20)

    rows = [f'<text x="8" y="{30 + lane * LANE}">core {lane + 1}</text>' for lane in (0, 1)]
    for row in runs:
        wide = max(1.5, x(row["end"]) - x(row["start"]) - 1)
        rows.append(
            f'<rect x="{x(row["start"]):.1f}" y="{14 + row["lane"] * LANE}" width="{wide:.1f}" height="24" rx="3" '
            f'fill="{COLOURS[row["kind"]]}"/>'
        )
    top, bottom = 14 + 2 * LANE + 14, 14 + 2 * LANE + 14 + CURVE
    high, low = max(span for _, span in best), min(span for _, span in best)
    points, before = [], None
    for at, span in best:
        y = top + (high - span) / ((high - low) or 1.0) * (CURVE - 12) + 6
        if before is not None:
            points.append((x(at), before))
        points.append((x(at), y))
        before = y
    points.append((x(seconds), before))
    line = " ".join(f"{a:.1f},{b:.1f}" for a, b in points)
    rows.append(f'<polyline points="{line}" fill="none" stroke="#222" stroke-width="2"/>')
    rows.append(f'<text x="8" y="{top + 12}">{high:.0f} mm</text><text x="8" y="{bottom}">{low:.0f} mm</text>')
    step = max(1, round(seconds / 10))
    for second in range(0, int(seconds) + 1, step):
        a = f"{x(second):.1f}"
        rows += [
            f'<line x1="{a}" x2="{a}" y1="10" y2="{bottom + 4}" stroke="#ccc" stroke-width=".7"/>',
            f'<text x="{a}" y="{bottom + 18}" text-anchor="middle">{second} s</text>',
        ]
    for i, (kind, colour) in enumerate(COLOURS.items()):
        a, b = LEFT + (i % 3) * 265, bottom + 34 + (i // 3) * 20
        rows.append(f'<rect x="{a}" y="{b}" width="12" height="12" rx="2" fill="{colour}"/>')
        rows.append(f'<text x="{a + 18}" y="{b + 11}">{escape(kind)}</text>')
    height = bottom + 82
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" '
        f'font-family="sans-serif" font-size="12" fill="#222"><rect width="{WIDTH}" height="{height}" fill="#fff"/>'
        + "".join(sorted(rows, key=lambda row: not row.startswith("<line")))
        + "</svg>\n"
    )
