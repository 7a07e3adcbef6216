"""Property tests of the library: how long one example takes is never a fault, on a busy machine it may be long."""

import pytest
from hypothesis import HealthCheck, settings

from tests.part_files import write_plate, write_tube, write_two_plates

settings.register_profile("shop", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shop")


@pytest.fixture(scope="session")
def files(tmp_path_factory):
    """Part files by name, written once."""
    folder = tmp_path_factory.mktemp("parts")
    write_plate(folder / "plate.dxf")
    write_plate(folder / "unitless.dxf", units=0)
    write_plate(folder / "open.dxf", gap=5.0)
    write_two_plates(folder / "pair.dxf")
    write_tube(folder / "post.step")
    write_tube(folder / "frame.step", "two")
    return folder
