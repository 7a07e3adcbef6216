"""Bars: ours against the cutting-stock library alone, beside a bound that shares no code with either.

The bound is the linear programme of Gilmore and Gomory (Operations Research 9, 1961, and 11, 1963): one variable for
each way to fill a bar, made as they are needed by a knapsack. Both are solved with HiGHS, which is in SciPy. Its value
is rounded up to the next cost that any set of bars can have. It knows nothing of mitres that lie against each other,
and neither does the library: on jobs of mitred parts `known` may be below it. There `saved %` is what pieces share of
bar, of the most that is geometrically possible on so many bars. Without a folder the jobs are those of
`tests.bench.mitres`.
"""

import itertools
import json
import math
import os
import statistics
import sys
import tempfile
from collections import Counter
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from tests.bench import mitres
from tests.bench.timed import run

WAYS = ("ours", "bars-library")
TITLES = ("job", "way", "seed", "wall s", "cpu s", "bars", "cost", "bound", "known", "proven", "saved %", "valid")

NOISE = 1e-7


def add_to(parsers):
    bars = parsers.add_parser("bars", help="our bar engine against the library, beside a bound from HiGHS")
    bars.add_argument("folder", type=Path, nargs="?", help="a folder of job files, or one job file; else mitred jobs")
    bars.add_argument("--seconds", type=float, default=10.0)
    bars.add_argument("--seeds", type=int, nargs="+", default=[1])
    bars.set_defaults(run=run_all)


def run_all(given):
    if given.folder is None:
        with tempfile.TemporaryDirectory() as folder:
            for name, job in mitres.jobs():
                (Path(folder) / f"{name}.json").write_text(json.dumps(job))
            given.folder = Path(folder)
            return run_all(given)
    files = [given.folder] if given.folder.is_file() else sorted(given.folder.glob("*.json"))
    print(*TITLES, sep="\t", flush=True)
    sound, walls = True, {way: [] for way in WAYS}
    for file in files:
        job = json.loads(file.read_text())
        with hushed():
            bound = cost_bound(job)
        for seed in given.seeds:
            for way in WAYS:
                nest, wall, cpu, said = run(way, file, given.seconds, seed)
                walls[way].append(wall)
                if nest is None:
                    print(file.stem, way, seed, f"{wall:.2f}", f"{cpu:.2f}", f"no nest: {said}", sep="\t", flush=True)
                    sound = sound and way != "ours"
                    continue
                faults, bars, cost = look(job, nest)
                proven = {True: "yes", False: "no"}.get(nest.get("proven_optimal"), "-")
                figures = (
                    bars,
                    f"{cost:g}",
                    f"{bound:g}",
                    job.get("known_bars", "-"),
                    proven,
                    share_saved(job, nest, bars),
                )
                print(
                    file.stem, way, seed, f"{wall:.2f}", f"{cpu:.2f}", *figures, faults or "yes", sep="\t", flush=True
                )
                sound = sound and not (way == "ours" and faults)
    print()
    for way, seconds in walls.items():
        print(f"{way}: median {statistics.median(seconds):.2f} s, longest {max(seconds):.2f} s, starting it included")
    return 0 if sound else 1


def share_saved(job, nest, bars):
    if not any("ends" in part for part in job["parts"]):
        return "-"
    most = mitres.most_saved(job, mitres.height_of(job), bars)
    return f"{100 * mitres.saved(job, nest) / most:.1f}" if most else "-"


@contextmanager
def hushed():
    """Keeps what the solver's library says past Python from the table."""
    kept, nothing = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    sys.stdout.flush()
    os.dup2(nothing, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nothing)


def room_of(bar, rules):
    """Length for pieces when each is taken with a gap behind it, the last one too."""
    held = Fraction(str(rules.get("dead_end_mm", 0))) + Fraction(str(rules.get("lead_end_mm", 0)))
    return Fraction(str(bar["length_mm"])) - held + Fraction(str(rules.get("gap_mm", 0)))


def cost_of(bar):
    return Fraction(str(bar["cost"] if bar.get("cost") is not None else bar["length_mm"]))


def cost_bound(job):
    """The least that bars for all parts can cost."""
    gap = Fraction(str(job["rules"].get("gap_mm", 0)))
    lengths = np.array([float(Fraction(str(part["length_mm"])) + gap) for part in job["parts"]])
    counts = np.array([part["count"] for part in job["parts"]])
    rooms = [float(room_of(bar, job["rules"])) for bar in job["stock"]]
    costs = [float(cost_of(bar)) for bar in job["stock"]]
    limits = [np.inf if bar.get("count") is None else bar["count"] for bar in job["stock"]]
    # One way for each part alone on the first bar that takes it, to begin with.
    ways = []
    for i, length in enumerate(lengths):
        for k, room in enumerate(rooms):
            if length <= room + NOISE:
                fill = np.zeros(len(lengths))
                fill[i] = min(counts[i], int((room + NOISE) // length))
                ways.append((k, fill))
    step = float(Fraction(math.gcd(*[int(cost_of(bar) * 1000) for bar in job["stock"]]), 1000))
    while True:
        worth, scarce, value = _master(ways, costs, counts, limits)
        better, excess = [], 1.0
        for k, room in enumerate(rooms):
            fill = _knapsack(worth, lengths, counts, room)
            most = float(worth @ fill) - scarce[k]
            excess = max(excess, most / costs[k]) if costs[k] else math.inf
            if most > costs[k] * (1 + 1e-9) + NOISE:
                better.append((k, fill))
        # Source: Farley, Operations Research 38 (1990), from memory: prices scaled down to what no way exceeds are a
        # bound at any time. Where it rounds up to what the ways at hand do, the end cannot differ.
        if not better or _up(value / excess, step) >= _up(value, step) > 0:
            break
        ways += better
    return _up(value, step)


def _up(value, step):
    return math.ceil(value / step - 1e-6) * step


def _master(ways, costs, counts, limits):
    """Least cost of the ways at hand; what a further piece of each part and a further bar of each kind is worth."""
    matrix = -np.column_stack([fill for _, fill in ways])
    limited = [k for k, limit in enumerate(limits) if math.isfinite(limit)]
    rows = [[1.0 if kind == k else 0.0 for kind, _ in ways] for k in limited]
    upper = np.vstack([matrix, *rows]) if rows else matrix
    most = np.concatenate([-counts.astype(float), [limits[k] for k in limited]])
    solved = linprog([costs[k] for k, _ in ways], A_ub=upper, b_ub=most, method="highs")
    if solved.x is None:
        raise SystemExit("The parts do not all fit the bars at hand, so there is no bound.")
    prices = -solved.ineqlin.marginals
    scarce = np.zeros(len(limits))
    for row, k in enumerate(limited):
        scarce[k] = prices[len(counts) + row]
    return prices[: len(counts)], scarce, solved.fun


def _knapsack(worth, lengths, counts, room):
    fits = LinearConstraint(lengths[None, :], -np.inf, room + NOISE)
    most = np.minimum(counts, (room + NOISE) // lengths)
    solved = milp(-worth, constraints=fits, bounds=Bounds(0, most), integrality=np.ones(len(lengths)))
    return np.round(solved.x)


def look(job, nest):
    """Faults in words ("" for none), bars and cost of a nest, by plain sums.

    Mitred neighbours may share as much as any of their ends could; how they lie is for the checker and its tests.
    """
    parts = {part["name"]: part for part in job["parts"]}
    stock = {bar["name"]: bar for bar in job["stock"]}
    gap = Fraction(str(job["rules"].get("gap_mm", 0)))
    faults, made, used, cost = [], Counter(), Counter(), Fraction(0)
    for i, bar in enumerate(nest["bars"]):
        copies = bar.get("copies", 1)
        used[bar["stock"]] += copies
        cost += copies * cost_of(stock[bar["stock"]])
        names = [piece["part"] for piece in bar["pieces"]]
        for name in names:
            made[name] += copies
        shares = [mitres.shared(parts[a], parts[b], job) for a, b in itertools.pairwise(names)]
        need = sum(Fraction(str(parts[name]["length_mm"])) + gap for name in names)
        if need - sum(shares) > room_of(stock[bar["stock"]], job["rules"]):
            faults.append(f"bar {i + 1} is overfull")
        starts = [Fraction(str(piece["start_mm"])) for piece in bar["pieces"] if "start_mm" in piece]
        for at, (start, name) in enumerate(zip(starts, names, strict=False)):
            end = start + Fraction(str(parts[name]["length_mm"]))
            if at + 1 < len(starts) and starts[at + 1] - end < gap - shares[at] - Fraction(1, 1000):
                faults.append(f"bar {i + 1}: pieces {at + 1} and {at + 2} are too near")
    for name, part in parts.items():
        if made[name] != part["count"]:
            faults.append(f"{name}: {made[name]} of {part['count']}")
    for name, count in used.items():
        if stock[name].get("count") is not None and count > stock[name]["count"]:
            faults.append(f"{name}: {count} bars, {stock[name]['count']} there")
    return "; ".join(faults[:3]), sum(used.values()), float(cost)
