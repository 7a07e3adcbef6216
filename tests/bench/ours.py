"""Lays one job with our engine: `python -m tests.bench.ours ours JOB SECONDS SEED NEST`.

Only for `tests.bench.timed`.
"""

import json
import sys
from pathlib import Path

from nesting.records.jobs import job_from_record
from nesting.records.nests import nest_to_record
from nesting.route import lay_out

if __name__ == "__main__":
    _, file, seconds, seed, answer = sys.argv[1:]
    record = json.loads(Path(file).read_text())
    job = job_from_record({key: record[key] for key in ("kind", "stock", "rules", "parts")})
    nest = lay_out(job, budget=float(seconds), seed=int(seed))
    Path(answer).write_text(json.dumps(nest_to_record(nest)))
