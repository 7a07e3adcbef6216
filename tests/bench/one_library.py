"""Lays one job with one library alone: `python -m tests.bench.one_library LIBRARY JOB SECONDS SEED NEST`.

The libraries get plain polygons and their own defaults, and nothing of ours. The strip library knows neither holes nor
sheets: its nest is one long sheet ("strip"), which is generous to it. Only for `tests.bench.timed`.
"""

import json
import random
import sys
from pathlib import Path

from tests.bench.second_look import STRIP, flat, signed_area

QUARTERS = [0, 90, 180, 270]


def anticlockwise(ring):
    points = flat(ring)
    return points if signed_area(points) > 0 else points[::-1]


def turns_of(job, part):
    return part.get("turns_deg", job["rules"].get("turns_deg", QUARTERS))


def packingsolver(job, seconds, seed):
    from packingsolver import irregular as library

    stock, rules, parts = job["stock"], job["rules"], list(job["parts"])
    random.Random(seed).shuffle(parts)  # the library has no seed
    builder = library.InstanceBuilder()
    one_size = len(stock) == 1
    builder.set_objective(
        library.Objective.BinPackingWithLeftovers if one_size else library.Objective.VariableSizedBinPacking
    )
    for sheet in stock:
        builder.add_bin_type(
            library.build_rectangle(sheet["width_mm"], sheet["height_mm"]),
            item_bin_minimum_spacing=rules.get("margin_mm", 0),
            copies=-1 if sheet.get("count") is None else sheet["count"],
        )
    builder.set_item_item_minimum_spacing(rules.get("gap_mm", 0))
    for part in parts:
        holes = [library.build_shape(anticlockwise(hole)) for hole in part.get("holes", [])]
        turns = turns_of(job, part)
        builder.add_item_type(
            library.ShapeWithHoles(library.build_shape(anticlockwise(part["outer"])), holes),
            copies=part["count"],
            allowed_rotations=[(0, 360, False)] if turns == "any" else [(turn, turn, False) for turn in turns],
        )
    settings = library.OptimizeParameters()
    settings.time_limit, settings.verbosity_level, settings.messages_to_stdout = seconds, 0, False
    solution = library.optimize(builder.build(), settings).solution
    sheets = []
    for i in range(solution.number_of_different_bins()):
        packed = solution.bin(i)
        places = [
            place(parts[p.item_type_id]["name"], p.bl_corner.x, p.bl_corner.y, p.angle, p.mirror) for p in packed.items
        ]
        sheets.append({"stock": stock[packed.bin_type_id]["name"], "copies": packed.copies, "placements": places})
    return {"sheets": sheets}


def spyrrow(job, seconds, seed):
    import spyrrow as library

    rules, sheet = job["rules"], job["stock"][0]
    gap, margin = rules.get("gap_mm", 0), rules.get("margin_mm", 0)
    items = []
    for part in job["parts"]:
        turns = turns_of(job, part)
        shape = [tuple(point) for point in flat(part["outer"])]
        items.append(
            library.Item(part["name"], shape, part["count"], None if turns == "any" else [float(t) for t in turns])
        )
    # The library keeps the gap to the strip's border too.
    strip = library.StripPackingInstance("job", sheet["height_mm"] - 2 * margin + 2 * gap, items)
    found = strip.solve(
        library.StripPackingConfig(
            early_termination=False, total_computation_time=int(seconds), min_items_separation=gap or None, seed=seed
        )
    )
    shift = margin - gap
    allowed = {part["name"]: turns_of(job, part) for part in job["parts"]}
    places = [
        place(p.id, p.translation[0] + shift, p.translation[1] + shift, nearest(p.rotation, allowed[p.id]), False)
        for p in found.placed_items
    ]
    return {"sheets": [{"stock": STRIP, "copies": 1, "placements": places}]}


def nearest(turn, allowed):
    """The allowed turn (degrees) that is meant: the library computes in single precision, and says -45.00001."""
    if allowed == "any":
        return turn
    return min(allowed, key=lambda each: abs((turn - each + 180) % 360 - 180))


def place(name, x, y, turn, mirrored):
    return {"part": name, "x_mm": x, "y_mm": y, "turn_deg": turn, "mirrored": mirrored}


if __name__ == "__main__":
    name, file, budget, chance, answer = sys.argv[1:]
    way = {"packingsolver": packingsolver, "spyrrow": spyrrow}[name]
    Path(answer).write_text(json.dumps(way(json.loads(Path(file).read_text()), float(budget), int(chance))))
