"""Hypothesis strategies for the nouns of `nesting`: shapes without self-crossing, parts, stock, jobs and nests."""

import math
from functools import partial

from hypothesis import strategies as st

from nesting.geometry.contour import Contour, Path
from nesting.model.bound import StockBound
from nesting.model.findings import Finding, Severity, any_blocks
from nesting.model.nest import (
    BarJob,
    BarLayout,
    BarNest,
    BarRules,
    Demand,
    Piece,
    PieceOrder,
    Placement,
    SheetJob,
    SheetLayout,
    SheetNest,
    SheetRules,
    Sides,
    Unplaced,
)
from nesting.model.part import SheetPart, TubePart
from nesting.model.reading import Reading
from nesting.model.section import Section
from nesting.model.stock import Bar, Sheet
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind

lengths = partial(st.floats, allow_nan=False, allow_infinity=False)

names = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), min_size=1, max_size=20)
"""Any text a name can be: markup, quotes, line ends and letters of every script among it."""

turns = st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), lengths(-360.0, 360.0))


@st.composite
def rings(draw, radius=100.0):
    """Rings round the origin that hold a circle of a third of the radius and never cross themselves."""
    count = draw(st.integers(3, 8))
    vertices = []
    for k in range(count):
        reach = radius * draw(lengths(0.9, 1.0))
        angle = 2.0 * math.pi * k / count
        bulge = draw(st.one_of(st.just(0.0), lengths(-0.1, 0.1).filter(lambda b: b == 0.0 or abs(b) > 1e-4)))
        vertices.append((reach * math.cos(angle), reach * math.sin(angle), bulge))
    return Contour(tuple(vertices))


@st.composite
def holes(draw, x, y):
    """A round or a slotted hole inside 9 mm of (x, y)."""
    radius = draw(lengths(1.0, 4.0))
    if draw(st.booleans()):
        return Contour.circle(x, y, radius)
    half = draw(lengths(0.5, 4.0))
    return Contour(
        (
            (x - half, y - radius, 0.0),
            (x + half, y - radius, 1.0),
            (x + half, y + radius, 0.0),
            (x - half, y + radius, 1.0),
        )
    )


paths = st.lists(st.tuples(lengths(-30.0, 30.0), lengths(-30.0, 30.0), lengths(-1.0, 1.0)), min_size=2, max_size=5).map(
    lambda vertices: Path(tuple(vertices))
)


@st.composite
def sheet_parts(draw, name=None, marks=True):
    places = draw(st.lists(st.sampled_from([(-12.0, -12.0), (12.0, -12.0), (12.0, 12.0), (-12.0, 12.0)]), unique=True))
    return SheetPart(
        draw(names) if name is None else name,
        draw(rings()),
        tuple(draw(holes(x, y)) for x, y in places),
        tuple(draw(st.lists(paths, max_size=2))) if marks else (),
    )


@st.composite
def sections(draw):
    wall = draw(lengths(0.5, 6.0))
    width = draw(lengths(2.5 * wall, 200.0))
    if draw(st.booleans()):
        return Section.round(width, wall)
    height = draw(st.one_of(st.just(width), lengths(width, 300.0)))
    return Section.box(height, width, wall, draw(lengths(0.0, width / 2.0)))


angles = lengths(0.0, 359.0)


@st.composite
def end_cuts(draw):
    kind, diameter, offset = draw(st.sampled_from(EndKind)), draw(lengths(1.0, 300.0)), draw(lengths(-20.0, 20.0))
    return EndCut(kind, draw(paths), draw(lengths(1.0, 80.0)), draw(angles), diameter, offset, draw(lengths(0.0, 89.0)))


@st.composite
def cut_outs(draw):
    measures = [draw(lengths(-50.0, 50.0)) for _ in range(6)]
    contours = tuple(draw(st.lists(rings(), min_size=1, max_size=2)))
    return CutOut(draw(st.sampled_from(CutOutKind)), draw(names), *measures, contours, *draw(st.tuples(angles, angles)))


@st.composite
def tube_parts(draw, name=None):
    return TubePart(
        draw(names) if name is None else name,
        draw(sections()),
        draw(lengths(1.0, 6000.0)),
        draw(st.integers(0, 20)),
        draw(lengths(0.0, 1e5)),
        draw(st.booleans()),
        draw(st.one_of(st.none(), lengths(1.0, 1e8))),
        draw(st.one_of(st.none(), st.tuples(end_cuts(), end_cuts()))),
        tuple(draw(st.lists(cut_outs(), max_size=1))),
    )


counts = st.one_of(st.none(), st.integers(0, 1000))
costs = st.one_of(st.none(), lengths(0.0, 1e6))


@st.composite
def sheets(draw, name=None):
    name = draw(names) if name is None else name
    if draw(st.booleans()):
        return Sheet(name, draw(rings(500.0)), draw(counts), draw(costs), is_remnant=True)
    return Sheet.rectangle(name, draw(lengths(100.0, 4000.0)), draw(lengths(100.0, 2000.0)), draw(counts), draw(costs))


@st.composite
def bars(draw, name=None):
    return Bar(draw(names) if name is None else name, draw(lengths(100.0, 12000.0)), draw(counts), draw(costs))


allowed_turns = st.one_of(st.just("any"), st.lists(turns, min_size=1, max_size=4).map(tuple))
several_names = st.lists(names, min_size=1, max_size=3, unique=True)


sheet_rules = st.builds(
    SheetRules,
    lengths(0.0, 20.0),
    lengths(0.0, 30.0),
    allowed_turns,
    st.booleans(),
    st.builds(Sides, *[st.one_of(st.just(0.0), lengths(0.0, 80.0))] * 4),
    st.one_of(st.none(), st.integers(1, 9)),
    st.booleans(),
)


@st.composite
def sheet_demands(draw, name):
    count = draw(st.integers(0, 50))
    return Demand(
        draw(sheet_parts(name)),
        count,
        draw(st.one_of(st.none(), allowed_turns)),
        draw(st.one_of(st.none(), st.dates())),
        draw(st.one_of(st.just(""), names)),
        draw(st.one_of(st.none(), st.integers(count, count + 9))),
    )


@st.composite
def sheet_jobs(draw):
    return SheetJob(
        tuple(draw(sheets(name)) for name in draw(several_names)),
        draw(sheet_rules),
        tuple(draw(sheet_demands(name)) for name in draw(several_names)),
    )


@st.composite
def bar_rules(draw):
    gap = draw(lengths(0.0, 10.0))
    return BarRules(
        gap,
        draw(lengths(0.0, 300.0)),
        draw(lengths(0.0, 50.0)),
        draw(allowed_turns),
        draw(st.booleans()),
        draw(st.sampled_from(list(PieceOrder))),
        draw(st.sampled_from([None, 0.0, gap])),
    )


@st.composite
def bar_jobs(draw):
    return BarJob(
        tuple(draw(bars(name)) for name in draw(several_names)),
        draw(bar_rules()),
        tuple(Demand(draw(tube_parts(name)), draw(st.integers(0, 50))) for name in draw(several_names)),
    )


bounds = st.builds(StockBound, lengths(0.0, 1e12), st.integers(0, 10**6), lengths(0.0, 1e5), lengths(0.0, 1e12))


@st.composite
def _answer(draw, job, layouts):
    part_names = [demand.part.name for demand in job.demands]
    left = [Unplaced(draw(st.sampled_from(part_names)), draw(st.integers(1, 9)), draw(names))]
    return {
        "layouts": tuple(layouts),
        "unplaced": tuple(draw(st.sampled_from([[], left]))),
        "proven_optimal": draw(st.booleans()),
        "seed": draw(st.integers(0, 2**31)),
        "seconds": draw(lengths(0.0, 1e4)),
        "engine": draw(st.sampled_from(["", "rows"])),
        "cut_short": draw(st.booleans()),
        "bound": draw(st.one_of(st.none(), bounds)),
    }


@st.composite
def sheet_nests(draw):
    """Nests that answer a job in form only: pieces may overlap, for writing them out must not care."""
    job = draw(sheet_jobs())
    layouts = []
    for _ in range(draw(st.integers(1, 2))):
        placements = [
            Placement(
                draw(st.sampled_from(job.demands)).part.name,
                draw(lengths(-100.0, 3000.0)),
                draw(lengths(-100.0, 1500.0)),
                draw(turns),
                draw(st.booleans()),
            )
            for _ in range(draw(st.integers(0, 4)))
        ]
        stock = draw(st.sampled_from(job.stock)).name
        layouts.append(SheetLayout(stock, tuple(placements), draw(st.integers(1, 5))))
    return SheetNest(job, **draw(_answer(job, layouts)))


@st.composite
def bar_nests(draw):
    """Nests that answer a job in form only: pieces may overlap, for writing them out must not care."""
    job = draw(bar_jobs())
    layouts = []
    for _ in range(draw(st.integers(1, 2))):
        pieces = [
            Piece(
                draw(st.sampled_from(job.demands)).part.name,
                draw(lengths(0.0, 6000.0)),
                draw(st.booleans()),
                draw(turns),
            )
            for _ in range(draw(st.integers(0, 4)))
        ]
        layouts.append(BarLayout(draw(st.sampled_from(job.stock)).name, tuple(pieces), draw(st.integers(1, 5))))
    return BarNest(job, **draw(_answer(job, layouts)))


@st.composite
def findings(draw):
    return Finding(
        draw(st.sampled_from(["open-contour", "unit-unknown", "joined-ends"])),
        draw(st.sampled_from(list(Severity))),
        draw(names),
        draw(st.one_of(st.none(), st.tuples(lengths(-500.0, 500.0), lengths(-500.0, 500.0)))),
    )


@st.composite
def readings(draw):
    found = tuple(draw(st.lists(findings(), max_size=5)))
    kind = "refused" if any_blocks(found) else draw(st.sampled_from(["sheet", "tube"]))
    part = tube_parts() if kind == "tube" else sheet_parts()
    parts = tuple(draw(st.lists(part, min_size=0 if kind == "refused" else 1, max_size=3)))
    sketch = () if kind == "tube" else tuple(draw(st.lists(paths, max_size=4)))
    return Reading(kind, parts, found, sketch, draw(st.sampled_from(["", "mm", "inch"])))
