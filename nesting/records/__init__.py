"""Plain-dict form of parts, readings, jobs and nests: the only form that files, pipes and the database hold.

Keys carry the unit (`gap_mm`, `turn_deg`). The job and nest forms are documented in the README. Reading a record checks
it: a fault is a `BadRecord` that names the place, so that a hand-written job file gets a sentence and not a traceback.
"""
