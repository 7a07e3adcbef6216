"""What the README says of commands and settings is so."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
OWN_SCRIPTS = [block for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL) if "-m nesting lay" in block]


def test_each_setting_of_the_table_is_read_and_each_that_is_read_stands_in_it():
    told = set(re.findall(r"^\| `([A-Z_]+)` \|", README, re.MULTILINE))
    code = (ROOT / "shopfloor" / "settings.py").read_text() + (ROOT / "manage.py").read_text()
    read = set(re.findall(r'environ(?:\.get|\.setdefault|\.pop)?[\[(]"([A-Z_]+)"', code)) - {"DJANGO_SETTINGS_MODULE"}
    assert told - {"UV_PYTHON_DOWNLOADS"} == read


def test_each_command_that_is_named_exists():
    named = set(re.findall(r"manage\.py (\w+)", README + DEVELOPERS))
    assert {"up", "test"} <= named
    assert named - {"version", "check"} <= set(get_commands())


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_each_file_that_is_linked_is_there(text):
    targets = [target for target in re.findall(r"\]\(([^)]+)\)", text) if "://" not in target]
    assert [target for target in targets if not (ROOT / target).exists()] == []


def test_pictures_are_small():
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)
    assert len(pictures) == 4
    assert [name for name in pictures if (ROOT / name).stat().st_size > 200_000] == []


@pytest.mark.slow
@pytest.mark.parametrize("script", OWN_SCRIPTS, ids=["sheet", "bar"])
def test_the_examples_work_as_pasted(script, tmp_path):
    done = subprocess.run(
        ["sh", "-e", "-c", script],
        cwd=tmp_path,
        env={
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "PATH": os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]),
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    answer, end = json.JSONDecoder().raw_decode(done.stdout)
    assert answer["placed"] > 0
    assert answer["unplaced"] == 0
    assert done.stdout[end:].strip().startswith("No fault found")


def test_the_examples_are_one_of_each_kind():
    assert sorted(re.search(r'"kind": "(\w+)"', script)[1] for script in OWN_SCRIPTS) == ["bar", "sheet"]


def test_every_folder_of_the_apps_stands_in_the_layout():
    for folder in (*(ROOT / "nesting").iterdir(), *(ROOT / "shopfloor").iterdir()):
        if (folder / "__init__.py").exists():
            assert f"`{folder.name}/`" in DEVELOPERS, f"{folder.name} is not in the picture of the layout"
