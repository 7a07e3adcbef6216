"""Bar jobs of mitred tube with a known optimum: `python -m tests.bench.mitres FOLDER` writes them.

Whole bars are cut up on paper: pieces in a chain that interlocks at every joint fill each of them but for a percent, so
that `known_bars` bars do. That fewer cannot is seen by `least_bars` from what the pieces take up if every mitre shared
all that it can with another. The answer is thus known without any solver.
"""

import json
import math
import random
import sys
from fractions import Fraction
from pathlib import Path

ROOM, LEAD, DEAD, GAP, WASTE = 6000, 10, 290, 3, 60
BOX = {"shape": "square", "height_mm": 40, "width_mm": 40, "wall_mm": 3, "corner_radius_mm": 6}
TALL = {"shape": "rectangular", "height_mm": 60, "width_mm": 40, "wall_mm": 3, "corner_radius_mm": 6}
TUBE = {"shape": "round", "diameter_mm": 48.3, "wall_mm": 3}

KINDS = {
    # name: section, its height, the ends of each kind of piece as (angle, towards) of start and end, kinds of length
    "frames": (BOX, 40, [((45, 90), (45, 90))], 6),
    "braces": (BOX, 40, [((45, 90), (45, 270))], 6),
    "two-kinds": (BOX, 40, [((45, 90), (45, 90)), ((30, 90), (30, 270))], 8),
    "two-kinds-round": (TUBE, 48.3, [((45, 90), (45, 90)), ((30, 90), (30, 270))], 8),
    "two-kinds-tall": (TALL, 60, [((45, 90), (45, 90)), ((60, 90), (60, 90))], 10),
    "half-mitred": (BOX, 40, [((45, 90), None), (None, (45, 270))], 8),
    "three-kinds": (BOX, 40, [((45, 90), (45, 90)), ((30, 90), (45, 270)), (None, (30, 90))], 12),
}


def depth(end, height):
    """How far a mitre reaches along the bar."""
    return 0.0 if end is None else height * math.tan(math.radians(end[0]))


def make(kind, bars, seed):
    section, height, shapes, lengths = KINDS[kind]
    chance = random.Random(f"{kind} {bars} {seed}")
    palette = []
    for i in range(lengths):
        ends = shapes[i % len(shapes)]
        least = 1.2 * sum(depth(end, height) for end in ends) + 50
        palette.append((ends, round(least + chance.uniform(100, 1500), 1)))
    counts = dict.fromkeys(range(lengths), 0)
    extra = []
    room = ROOM - LEAD - DEAD
    for _ in range(bars):
        used, last, chain = 0.0, None, []
        while True:
            fitting = [
                (i, turned)
                for i, (ends, long) in enumerate(palette)
                for turned in (ends, ends[::-1])
                if used + long + (0 if last is None else GAP - joint(last[1], turned[0], height)) <= room
            ]
            # A joint that interlocks wholly where there is one, now and then any.
            whole = [each for each in fitting if last is None or is_whole(last[1], each[1][0])]
            if not fitting:
                break
            i, turned = chance.choice(whole or fitting)
            used += palette[i][1] + (0 if last is None else GAP - joint(last[1], turned[0], height))
            last = turned
            chain.append(i)
        # One piece of the bar grows to fill it but for a percent, as a good nest of a shop would.
        grown = chain.pop()
        for i in chain:
            counts[i] += 1
        spare = max(0.0, room - used - chance.uniform(0, WASTE))
        extra.append((palette[grown][0], palette[grown][1] + math.floor(spare * 10) / 10))
    parts = [part(f"piece {i + 1}", palette[i], counts[i], height) for i in counts if counts[i]]
    parts += [part(f"last {i + 1}", each, 1, height) for i, each in enumerate(extra)]
    job = {
        "kind": "bar",
        "stock": [{"name": "6 m", "length_mm": ROOM}],
        "rules": {"gap_mm": GAP, "dead_end_mm": DEAD, "lead_end_mm": LEAD},
        "parts": [{**row, "section": section} for row in parts],
        "known_bars": bars,
    }
    return job if least_bars(job, height) == bars else None


def part(name, shape, count, height):
    ends, long = shape
    rows = [
        {"kind": "square"} if end is None else {"kind": "mitre", "angle_deg": end[0], "towards_deg": end[1]}
        for end in ends
    ]
    return {"name": name, "count": count, "length_mm": round(long, 1), "ends": rows}


def joint(end, start, height):
    """What two facing mitres share: the smaller one's depth, for one is turned as suits the other."""
    return 0.0 if end is None or start is None else min(depth(end, height), depth(start, height))


def shared(part, following, job):
    """The most that any ends of two parts could share, as a fraction; 0 where nothing is said of their ends."""
    if "ends" not in part or "ends" not in following:
        return Fraction(0)
    most = max(joint(end, start, height_of(job)) for end in ends_of(part) for start in ends_of(following))
    return Fraction(most)


def is_whole(end, start):
    return (end is None) == (start is None) and (end is None or end[0] == start[0])


def ends_of(row):
    return [None if end["kind"] == "square" else (end["angle_deg"], end["towards_deg"]) for end in row["ends"]]


def least_bars(job, height):
    """Bars that no way to lay the job does without, from the half of each mitre that it may share.

    Source: by hand. A joint shares the smaller of two depths, so no more than half of their sum; the two outer ends of
    a bar share nothing, so each bar loses at least the two smallest halves.
    """
    rules = job["rules"]
    taken = sum(
        row["count"] * (row["length_mm"] + rules["gap_mm"] - sum(depth(end, height) for end in ends_of(row)) / 2)
        for row in job["parts"]
    )
    outer = min(depth(end, height) for row in job["parts"] for end in ends_of(row))
    room = job["stock"][0]["length_mm"] - rules["dead_end_mm"] - rules["lead_end_mm"] + rules["gap_mm"] - outer
    return math.ceil(taken / room - 1e-9)


def most_saved(job, height, bars):
    """The most that pieces on so many bars can share: millimetres of bar."""
    depths = sorted(depth(end, height) for row in job["parts"] for _ in range(row["count"]) for end in ends_of(row))
    return sum(depths[2 * bars :]) / 2


def height_of(job):
    section = job["parts"][0]["section"]
    return section.get("diameter_mm", section.get("height_mm"))


def saved(job, nest):
    """What the pieces of the nest share: millimetres of bar, gaps beside."""
    long = {row["name"]: Fraction(str(row["length_mm"])) for row in job["parts"]}
    gap, total = Fraction(str(job["rules"]["gap_mm"])), 0.0
    for bar in nest["bars"]:
        pieces = bar["pieces"]
        if len(pieces) > 1 and "start_mm" in pieces[0]:
            taken = pieces[-1]["start_mm"] - pieces[0]["start_mm"]
            total += bar.get("copies", 1) * (float(sum(long[p["part"]] + gap for p in pieces[:-1])) - taken)
    return total


def jobs():
    """Every kind in two sizes."""
    for kind in KINDS:
        for bars in (4, 12):
            found = (make(kind, bars, seed) for seed in range(200))
            job = next((job for job in found if job is not None), None)
            if job is not None:
                yield f"mitres-{kind}-{bars}", job


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, job in jobs():
        (folder / f"{name}.json").write_text(json.dumps(job, indent=1))
        print(name, job["known_bars"], sum(row["count"] for row in job["parts"]), len(job["parts"]))
