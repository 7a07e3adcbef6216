"""Writes generated parts to a file and reads them back in this process. Hostile files go through the sandbox."""

import pytest

from nesting.records.parts import reading_from_record
from nesting.tube.step_reader import read_record
from nesting.tube.step_writer import write_solids, write_tubes


@pytest.fixture
def read_file():
    """The reading of one of our own, trusted files."""

    def read(path, name=None):
        return reading_from_record(read_record({"path": str(path), "name": name or path.name}, lambda news: None))

    return read


@pytest.fixture
def read_back(tmp_path, read_file):
    """The reading of tubes after they were written as STEP."""

    def read(*tubes, name="part.step", **how):
        path = tmp_path / "written.step"
        write_tubes(path, tubes, **how)
        return read_file(path, name)

    return read


@pytest.fixture
def read_solids_back(tmp_path, read_file):
    """The reading of solids of Open CASCADE, by name, after they were written as STEP."""

    def read(name="part.step", **solids):
        path = tmp_path / "written.step"
        write_solids(path, list(solids.items()))
        return read_file(path, name)

    return read
