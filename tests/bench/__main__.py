"""Benchmarks: `python -m tests.bench sheets FOLDER --seconds 30 --seeds 1 2 3`.

Runs our engine and each library alone on every job of the folder, one after the other, with the same wall seconds, and
looks at every nest again with `tests.bench.second_look`. The jobs (JSON files in the form of the command line) are no
part of this project. A ratio below 1 means that we need less; for a strip job the density ratio is its inverse.

Beside each span stand two that none can be below: that of the parts' net area, and the bound that our nest says of its
job. A valid nest of any way that is below one of them ends the run with code 1.
"""

import argparse
import json
import statistics
import sys
from pathlib import Path

from tests.bench import bars, race, read
from tests.bench.second_look import least_spans, look_again
from tests.bench.timed import WAYS, Outcome, run

TITLES = ("job", "way", "seed", "wall s", "cpu s", "sheets", "span mm", "area mm", "bound mm", "yield", "valid")

NOISE = 1e-6
"""Share of a span, and millimetres, that are float noise, and what the check forgives."""


def main(argv=None):
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.partition("\n")[0])
    parsers = parser.add_subparsers(required=True)
    bars.add_to(parsers)
    read.add_to(parsers)
    race.add_to(parsers)
    sheets = parsers.add_parser("sheets", help="our sheet engine against each library")
    sheets.add_argument("folder", type=Path, help="a folder of job files, or one job file")
    sheets.add_argument("--seconds", type=float, default=30.0)
    sheets.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    sheets.add_argument("--ways", nargs="+", choices=WAYS, default=list(WAYS))
    sheets.add_argument("--keep", type=Path, help="folder for the nests")
    sheets.set_defaults(run=run_all)
    given = parser.parse_args(argv)
    return given.run(given)


def run_all(given):
    files = [given.folder] if given.folder.is_file() else sorted(given.folder.glob("*.json"))
    if not files:
        print(f"{given.folder}: no job file there.", file=sys.stderr)
        return 2
    outcomes = {}
    print(*TITLES, sep="\t", flush=True)
    for file in files:
        job = json.loads(file.read_text())
        for seed in given.seeds:
            for way in given.ways:
                outcome = _outcome(file, job, way, given.seconds, seed, given.keep)
                outcomes.setdefault((file.stem, way), []).append(outcome)
                print(file.stem, way, seed, *_figures(outcome), sep="\t", flush=True)
                for fault in outcome.faults[:3]:
                    print(f"\t{fault}", flush=True)
    print()
    for line in summary(outcomes, [file.stem for file in files], given.ways):
        print(line)
    beaten = list(beaten_bounds(outcomes))
    for line in beaten:
        print(line)
    sound = all(each.is_valid for (_, way), some in outcomes.items() if way == "ours" for each in some)
    return 0 if sound and not beaten else 1


def _outcome(file, job, way, seconds, seed, keep):
    nest, wall, cpu, said = run(way, file, seconds, seed)
    if nest is None:
        return Outcome(wall, cpu, 0, float("inf"), 0.0, (f"no nest: {said}",))
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
        (keep / f"{file.stem}-{way}-{seed}.json").write_text(json.dumps(nest))
    look = look_again(job, nest)
    return Outcome(wall, cpu, look.sheets, look.span, look.share, look.faults, *least_spans(job, nest))


def _figures(outcome):
    return (
        f"{outcome.wall:.1f}",
        f"{outcome.cpu:.1f}",
        outcome.sheets,
        f"{outcome.span:.2f}",
        *(each if isinstance(each, str) else f"{each:.2f}" for each in (outcome.area, outcome.bound)),
        f"{outcome.share:.4f}",
        "yes" if outcome.is_valid else "NO",
    )


def beaten_bounds(outcomes):
    """A sentence for each bound that a valid nest is below, so that it is false."""
    for job in dict.fromkeys(job for job, _ in outcomes):
        mine = [each for (name, _), some in outcomes.items() if name == job for each in some if each.is_valid]
        least = min((each.span for each in mine), default=float("inf"))
        for field in ("area", "bound"):
            said = max((getattr(e, field) for e in mine if not isinstance(getattr(e, field), str)), default=0.0)
            if said > least * (1 + NOISE) + NOISE:
                yield f"{job}: the {field} bound of {said:.3f} mm is above a valid nest of {least:.3f} mm"


def summary(outcomes, jobs, ways):
    """Lines of the medians of each job, and the median of their ratios over all jobs."""
    ratios = {}
    yield "median\tway\tspan mm\tsheets\tcpu s\tours / it: span\tsheets"
    for job in jobs:
        ours = outcomes.get((job, "ours"))
        for way in ways:
            some = outcomes[job, way]
            span, sheets, cpu = (statistics.median(getattr(each, field) for each in some) for field in Outcome.COMPARED)
            line = f"{job}\t{way}\t{span:.2f}\t{sheets:g}\t{cpu:.1f}"
            if ours and way != "ours" and span:
                ratio = statistics.median(each.span for each in ours) / span
                ratios.setdefault(way, []).append(ratio)
                fewer = statistics.median(each.sheets for each in ours) / sheets if sheets else float("nan")
                line += f"\t{ratio:.4f}\t{fewer:.4f}"
            yield line
    for way, some in ratios.items():
        yield f"median over {len(some)} jobs: ours / {way} alone = {statistics.median(some):.4f}"


if __name__ == "__main__":
    sys.exit(main())
