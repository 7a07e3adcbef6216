"""Lays one bar job with the cutting-stock library alone.

`python -m tests.bench.bars_library NAME JOB SECONDS SEED NEST`.

Only for `tests.bench.timed`.
"""

import json
import random
import sys
from fractions import Fraction
from pathlib import Path

from tests.bench.bars import cost_of, room_of

PER_MM = 100


def lay(job, seconds, seed):
    from packingsolver import onedimensional as library

    parts, rules = list(job["parts"]), job["rules"]
    random.Random(seed).shuffle(parts)  # the library has no seed
    builder = library.InstanceBuilder()
    builder.set_objective(
        library.Objective.BinPacking if len(job["stock"]) == 1 else library.Objective.VariableSizedBinPacking
    )
    for bar in job["stock"]:
        copies = -1 if bar.get("count") is None else bar["count"]
        builder.add_bin_type(int(room_of(bar, rules) * PER_MM), cost=float(cost_of(bar)), copies=copies)
    gap = Fraction(str(rules.get("gap_mm", 0)))
    for part in parts:
        builder.add_item_type(round((Fraction(str(part["length_mm"])) + gap) * PER_MM), copies=part["count"])
    settings = library.OptimizeParameters()
    settings.time_limit, settings.verbosity_level, settings.messages_to_stdout = seconds, 0, False
    solution = library.optimize(builder.build(), settings).solution
    bars = []
    for i in range(solution.number_of_different_bins()):
        packed = solution.bin(i)
        pieces = [{"part": parts[each.item_type_id]["name"]} for each in packed.items]
        bars.append({"stock": job["stock"][packed.bin_type_id]["name"], "copies": packed.copies, "pieces": pieces})
    return {"bars": bars}


if __name__ == "__main__":
    _, file, budget, chance, answer = sys.argv[1:]
    Path(answer).write_text(json.dumps(lay(json.loads(Path(file).read_text()), float(budget), int(chance))))
