"""Reads many STEP files in one sandboxed call, each in a fork of a process that has the geometry kernel loaded."""

import json
import os
import resource

from nesting.tube.measuring import measure
from nesting.tube.step_reader import read_record
from nesting.tube.step_solids import load_solids

LOADED = (measure, load_solids)


def read_each(request, report):
    """For each path the record of its reading or {"raised": ...}, or None where the kernel ended the process, or ran
    for 20 s.
    """
    ends = {}
    for path in request["paths"]:
        reading, writing = os.pipe()
        if (pid := os.fork()) == 0:
            resource.setrlimit(resource.RLIMIT_CPU, (20, 20))
            try:
                record = read_record({"path": path, "name": "given.step"}, report)
            except Exception as fault:
                record = {"raised": f"{type(fault).__name__}: {fault}"}
            with os.fdopen(writing, "w") as answers:
                json.dump(record, answers)
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as answers:
            text = answers.read()
        _, status = os.waitpid(pid, 0)
        ends[path] = json.loads(text) if status == 0 else None
    return {"ends": ends}
