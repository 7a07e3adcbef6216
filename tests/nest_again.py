"""A second look at finished nests, with shapely and plain arithmetic alone: it shares nothing with `nesting.verify`.

Arcs become chords on the arc, so a part is taken a little smaller than it is; what is found here is a fault for sure.
"""

import math
from collections import Counter
from itertools import combinations

from shapely import affinity
from shapely.geometry import Polygon

CLOSE = 0.003


def points(ring, per_turn=90):
    """The ring's corners and points on its arcs."""
    found = []
    for (x1, y1, bulge), (x2, y2, _) in zip(ring.vertices, ring.vertices[1:] + ring.vertices[:1], strict=True):
        found.append((x1, y1))
        if bulge:
            angle = 4.0 * math.atan(bulge)
            # The centre in complex numbers: p2 - c = (p1 - c) · e^(i angle).
            p1, p2 = complex(x1, y1), complex(x2, y2)
            turn = complex(math.cos(angle), math.sin(angle))
            centre = (p2 - p1 * turn) / (1.0 - turn)
            count = max(2, math.ceil(abs(angle) / (2.0 * math.pi) * per_turn))
            for k in range(1, count):
                p = centre + (p1 - centre) * complex(math.cos(angle * k / count), math.sin(angle * k / count))
                found.append((p.real, p.imag))
    return found


def metal(part, placement, per_turn=90):
    shape = Polygon(points(part.outer, per_turn), [points(hole, per_turn) for hole in part.holes])
    cos, sin = math.cos(math.radians(placement.turn)), math.sin(math.radians(placement.turn))
    flip = -1.0 if placement.mirrored else 1.0
    return affinity.affine_transform(shape, [cos * flip, -sin, sin * flip, cos, placement.x, placement.y])


def count_faults(job, used, laid, unplaced):
    """What is wrong with the numbers of sheets or bars used and of parts laid and left out."""
    left = Counter()
    for row in unplaced:
        left[row.part] += row.count
    at_hand = {stock.name: math.inf if stock.count is None else stock.count for stock in job.stock}
    counts = {
        demand.part.name: (laid[demand.part.name], left[demand.part.name], demand.count) for demand in job.demands
    }
    return [
        *(f"{count} of {name} used" for name, count in used.items() if count > at_hand[name]),
        *(f"{name}: {a} laid, {b} left, {c} wanted" for name, (a, b, c) in counts.items() if a + b != c),
    ]


def sheet_faults(nest):
    """What is wrong with a sheet nest, as sentences."""
    job, faults = nest.job, []
    parts = {demand.part.name: demand.part for demand in job.demands}
    turns = {demand.part.name: job.turns_of(demand) for demand in job.demands}
    stock = {sheet.name: sheet for sheet in job.stock}
    laid, used = Counter(), Counter()
    for number, layout in enumerate(nest.layouts):
        sheet = stock[layout.stock]
        used[layout.stock] += layout.copies
        ground = Polygon(points(sheet.outline)).buffer(CLOSE)
        shapes = []
        for p in layout.placements:
            laid[p.part] += layout.copies
            shape = metal(parts[p.part], p)
            if not ground.covers(shape) or Polygon(points(sheet.outline)).exterior.distance(shape) < (
                job.rules.margin - CLOSE
            ):
                faults.append(f"{number}: {p} is off its sheet or in its margin")
            if turns[p.part] != "any" and not any(math.isclose((p.turn - t) % 360.0, 0.0) for t in turns[p.part]):
                faults.append(f"{number}: {p} is turned wrongly")
            if p.mirrored and not job.rules.mirror:
                faults.append(f"{number}: {p} is mirrored")
            shapes.append((p, shape))
        for (p, a), (q, b) in combinations(shapes, 2):
            if a.distance(b) < job.rules.gap - CLOSE or a.intersection(b).area > CLOSE * (a.length + b.length):
                faults.append(f"{number}: {p} and {q} are {a.distance(b)} apart")
    faults += count_faults(job, used, laid, nest.unplaced)
    return faults


def bar_faults(nest):
    """What is wrong with a bar nest, as sentences."""
    job, faults = nest.job, []
    length = {demand.part.name: demand.part.length for demand in job.demands}
    stock = {bar.name: bar for bar in job.stock}
    laid, used = Counter(), Counter()
    for number, layout in enumerate(nest.layouts):
        used[layout.stock] += layout.copies
        free_from = job.rules.lead_end
        for piece in layout.pieces:
            laid[piece.part] += layout.copies
            if piece.start < free_from - CLOSE:
                faults.append(f"{number}: {piece} starts before {free_from}")
            free_from = piece.start + length[piece.part] + job.rules.gap
        if layout.pieces and free_from - job.rules.gap > stock[layout.stock].length - job.rules.dead_end + CLOSE:
            faults.append(f"{number}: ends at {free_from - job.rules.gap}")
    faults += count_faults(job, used, laid, nest.unplaced)
    return faults
