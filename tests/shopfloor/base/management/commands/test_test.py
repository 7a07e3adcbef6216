"""The command that runs the tests."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[5]


@pytest.fixture
def run():
    """Runs `manage.py test` in this environment, as a person would who has just activated it."""

    # Databases and brokers of the run that this test is part of are none of that person's.
    kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "BROKER_URL", "REQUIRE_SERVICES")}

    def run(*args, **environment):
        return subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), "test", *args],
            env={**kept, "SHOP_NO_BOOTSTRAP": "1", **environment},
            capture_output=True,
            text=True,
            check=False,
            timeout=600,
        )

    return run


def test_what_follows_the_command_is_for_pytest_and_its_answer_is_ours(run):
    good = run("-q", "-p", "no:cacheprovider", "tests/nesting/model/test_section.py", "-k", "no_such_test_name")
    assert good.returncode == pytest.ExitCode.NO_TESTS_COLLECTED
    assert "deselected" in good.stdout
    assert run("--no-such-option").returncode == pytest.ExitCode.USAGE_ERROR


def test_the_tests_have_settings_of_their_own(run, tmp_path):
    probe = tmp_path / "test_probe.py"
    probe.write_text(
        "def test_settings():\n"
        "    from django.conf import settings\n"
        "    assert settings.SETTINGS_MODULE == 'tests.settings'\n"
        f"    assert not str(settings.DATA_DIR).startswith({str(tmp_path)!r})\n"
    )
    done = run("-q", "-p", "no:cacheprovider", "-c", str(ROOT / "pyproject.toml"), str(probe), SHOP_DATA=str(tmp_path))
    assert done.returncode == 0, done.stdout + done.stderr
