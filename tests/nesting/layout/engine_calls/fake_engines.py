"""Engines that misbehave in every way an engine can, called by name in a child process.

Each first reports what `good` among its options holds, if anything, and then does its worst.
"""

import os
import time

NONSENSE = {"layouts": [{"stock": "1000x500", "placements": [{"part": "a"}]}]}


def _begin(request, report):
    if "good" in request:
        report(request["good"])
        time.sleep(0.2)


def answer(request, report):
    _begin(request, report)
    return request["answer"]


def crash(request, report):
    _begin(request, report)
    os.abort()


def hang(request, report):
    _begin(request, report)
    while True:
        time.sleep(1.0)


def panic(request, report):
    class Panic(BaseException):
        pass

    _begin(request, report)
    raise Panic("at the engine's own whim")


def eat_memory(request, report):
    _begin(request, report)
    heap = []
    while True:
        heap.append(bytearray(2**26))


def nonsense(request, report):
    _begin(request, report)
    report(NONSENSE)
    time.sleep(0.2)
    return NONSENSE


def break_rules_until_gap_grows(request, report):
    """Answers what breaks the rules as long as no extra gap is asked for."""
    if request["extra_gap_mm"] > 0.0:
        return request["answer"]
    report(request["bad"])
    while True:
        time.sleep(1.0)


def always_break_rules(request, report):
    return request["bad"]
