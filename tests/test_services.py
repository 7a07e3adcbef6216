"""What happens where Chromium, PostgreSQL or Redis are not there: never silence."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def run(tmp_path):
    """Runs two small tests, one of them with a browser, as a run of its own."""
    folder = tmp_path / "probe"
    folder.mkdir()
    (folder / "conftest.py").write_text("from tests.conftest import pytest_configure\n")
    (folder / "test_probe.py").write_text(
        "import pytest\ndef test_plain(): pass\n@pytest.mark.browser\ndef test_with_browser(): pass\n"
    )

    def run(**environment):
        kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "BROKER_URL", "REQUIRE_SERVICES")}
        done = subprocess.run(
            [
                *(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"),
                *("-c", str(ROOT / "pyproject.toml"), "--rootdir", str(folder), str(folder)),
            ],
            env={**kept, **environment},
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        return done.returncode, done.stdout + done.stderr

    return run


@pytest.mark.slow
def test_without_chromium_its_tests_are_left_out_with_a_loud_line(run):
    code, said = run(SHOP_CHROMIUM="no-such-program")
    assert code == 0, said
    assert "! 1 browser tests left out: no Chromium found, install it (on Debian: apt install chromium)" in said
    assert "1 passed, 1 deselected" in said


@pytest.mark.slow
def test_with_chromium_its_tests_run(run, tmp_path):
    stand_in = tmp_path / "chromium"
    stand_in.write_text("#!/bin/sh\n")
    stand_in.chmod(0o755)
    code, said = run(SHOP_CHROMIUM=str(stand_in))
    assert code == 0, said
    assert "2 passed" in said
    assert "left out" not in said


@pytest.mark.slow
def test_where_services_are_required_a_missing_one_ends_the_run(run):
    code, said = run(REQUIRE_SERVICES="1", SHOP_CHROMIUM="no-such-program", BROKER_URL="redis://127.0.0.1:9/0")
    assert code == 2, said
    assert "Chromium: no Chromium found" in said
    assert "DATABASE_URL: it names no postgres server" in said
    assert "BROKER_URL: nobody answers at 127.0.0.1:9" in said
    assert "passed" not in said
