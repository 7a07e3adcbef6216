"""Looks at a nest again from the job's and the nest's plain JSON, with shapely alone: no code of `nesting` is used.

*Span* is the usable length of all sheets but the emptiest, and what the emptiest takes up along x. A nest of the strip
library is one sheet "strip" without an end.
"""

import math
from collections import Counter
from dataclasses import dataclass

from shapely import STRtree, affinity
from shapely.geometry import Polygon

CLOSE = 2e-3
"""Millimetres by which a rule may be missed, and overlaps are thought to be float noise."""

STEP = 0.05
"""Radians between two points on an arc. Chords lie within a part, so what is found here is a fault for sure."""

STRIP = "strip"
ENDLESS = 1e7
"""The name and the length of the sheet without an end."""


@dataclass(frozen=True)
class Look:
    faults: tuple[str, ...]
    sheets: int
    span: float
    share: float


def signed_area(points):
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True)) / 2


def flat(ring):
    """Points of a ring of [x, y] or [x, y, bulge]; a bulge is the tangent of a quarter of its arc's angle."""
    points = []
    for start, end in zip(ring, ring[1:] + ring[:1], strict=True):
        points.append((start[0], start[1]))
        angle = 4 * math.atan(start[2]) if len(start) > 2 else 0.0
        if angle:
            # About the centre c, end - c is start - c turned by the angle (complex numbers).
            a, b = complex(start[0], start[1]), complex(end[0], end[1])
            turn = complex(math.cos(angle), math.sin(angle))
            centre = (b - a * turn) / (1 - turn)
            steps = max(4, int(abs(angle) / STEP))
            for k in range(1, steps):
                p = centre + (a - centre) * complex(math.cos(angle * k / steps), math.sin(angle * k / steps))
                points.append((p.real, p.imag))
    return points


def look_again(job, nest):
    """What is wrong with the nest, and its figures."""
    rules, faults = job["rules"], []
    gap, margin = rules.get("gap_mm", 0), rules.get("margin_mm", 0)
    shapes = {p["name"]: Polygon(flat(p["outer"]), [flat(h) for h in p.get("holes", [])]) for p in job["parts"]}
    turns = {p["name"]: p.get("turns_deg", rules.get("turns_deg", [0, 90, 180, 270])) for p in job["parts"]}
    stock = {sheet["name"]: sheet for sheet in job["stock"]}
    stock[STRIP] = {"width_mm": ENDLESS, "height_mm": job["stock"][0].get("height_mm", 0)}
    laid, used, lengths, metal, area = Counter(), Counter(), [], 0.0, 0.0
    for number, sheet in enumerate(nest["sheets"], 1):
        copies, kind = sheet.get("copies", 1), stock[sheet["stock"]]
        used[sheet["stock"]] += copies
        ground = _ground(kind)
        inside = ground.buffer(CLOSE - margin, join_style="mitre")
        found = []
        for p in sheet["placements"]:
            laid[p["part"]] += copies
            if not _is_allowed(p["turn_deg"], turns[p["part"]]):
                faults.append(f"sheet {number}: {p['part']} is turned by {p['turn_deg']}")
            if p.get("mirrored") and not rules.get("mirror"):
                faults.append(f"sheet {number}: {p['part']} is mirrored")
            shape = _placed(shapes[p["part"]], p)
            if not inside.covers(shape):
                faults.append(f"sheet {number}: {p['part']} at {p['x_mm']:.2f}, {p['y_mm']:.2f} is off the sheet")
            found.append(shape)
        faults += [f"sheet {number}: {each}" for each in _pairs(found, sheet["placements"], gap)]
        left, _, right, _ = ground.bounds
        lengths += [(max((s.bounds[2] for s in found), default=left) - left - margin, right - left - 2 * margin)] * (
            copies
        )
        metal += copies * sum(s.area for s in found)
        area += copies * ground.area
    for name, count in used.items():
        if stock[name].get("count") is not None and count > stock[name]["count"]:
            faults.append(f"{count} of {name} used, {stock[name]['count']} in stock")
    for part in job["parts"]:
        if laid[part["name"]] != part["count"]:
            faults.append(f"{part['name']}: {laid[part['name']]} laid, {part['count']} wanted")
    lengths.sort()
    span = (lengths[0][0] if lengths else 0.0) + sum(full for _, full in lengths[1:])
    share = metal / area if area and STRIP not in used else 0.0
    return Look(tuple(faults), sum(used.values()), span, share)


def least_spans(job, nest):
    """Two lengths that no span of the job is below, "-" where there are several sizes of sheet: the net area of all
    parts over the usable height, worked out here, and the bound that the nest says of its job, "-" where it says none.
    """
    if len(job["stock"]) != 1 or "width_mm" not in job["stock"][0]:
        return "-", "-"
    sheet, margin = job["stock"][0], job["rules"].get("margin_mm", 0)
    rings = [(part["count"], [part["outer"], *part.get("holes", [])]) for part in job["parts"]]
    areas = [(count, [Polygon(flat(ring)).area for ring in some]) for count, some in rings]
    net = math.fsum(count * (outer - math.fsum(holes)) for count, (outer, *holes) in areas)
    said = (nest or {}).get("bound")
    span = (said["count"] - 1) * (sheet["width_mm"] - 2 * margin) + said["last_mm"] if said else "-"
    return net / (sheet["height_mm"] - 2 * margin), span


def _ground(kind):
    if "outline" in kind:
        return Polygon(flat(kind["outline"]))
    w, h = kind["width_mm"], kind["height_mm"]
    return Polygon([(0, 0), (w, 0), (w, h), (0, h)])


def _placed(shape, p):
    if p.get("mirrored"):
        shape = affinity.scale(shape, -1, 1, origin=(0, 0))
    return affinity.translate(affinity.rotate(shape, p["turn_deg"], origin=(0, 0)), p["x_mm"], p["y_mm"])


def _is_allowed(turn, turns):
    return turns == "any" or any(abs((turn - t + 180) % 360 - 180) < 1e-6 for t in turns)


def _pairs(shapes, placements, gap):
    tree = STRtree(shapes)
    for i, shape in enumerate(shapes):
        for j in tree.query(shape.buffer(gap + 1e-6)):
            if j <= i:
                continue
            distance, shared = shape.distance(shapes[j]), shape.intersection(shapes[j]).area
            if distance < gap - CLOSE or shared > CLOSE * (shape.length + shapes[j].length) / 2:
                yield f"{placements[i]['part']} and {placements[j]['part']} are {distance:.4f} mm apart"
