"""docker-compose.yml, .env.example, Dockerfile and settings agree with one another.

`.ci/compose_processes.py` runs the same commands against real servers; here is what shows without running them.
"""

import re
import shlex
import tomllib
from pathlib import Path

import pytest
import yaml
from django.conf import settings

ROOT = Path(__file__).resolve().parent.parent
TEXT = (ROOT / "docker-compose.yml").read_text()
SERVICES = yaml.safe_load(TEXT)["services"]
OURS = {name: service for name, service in SERVICES.items() if service["image"] == "shopfloor"}
LASTING = [name for name in SERVICES if name != "migrate"]


def queues_of(name):
    found = re.search(r"--queues=(\S+)", SERVICES[name]["command"])
    return set(found[1].split(",")) if found else set()


@pytest.mark.parametrize("name", LASTING)
def test_each_process_that_lasts_is_watched_and_started_again(name):
    service = SERVICES[name]
    assert service["healthcheck"]["test"][0] in ("CMD", "CMD-SHELL")
    assert service["restart"] == "unless-stopped"


def test_each_queue_has_a_worker_of_its_own():
    used = {settings.CELERY_TASK_DEFAULT_QUEUE, *(route["queue"] for route in settings.CELERY_TASK_ROUTES.values())}
    assert queues_of("worker-reading") == {settings.CELERY_TASK_DEFAULT_QUEUE}
    assert queues_of("worker-reading") | queues_of("worker-nesting") == used
    assert not queues_of("worker-reading") & queues_of("worker-nesting")


def test_every_variable_is_one_that_the_settings_read():
    read = (ROOT / "shopfloor" / "settings.py").read_text()
    for service in OURS.values():
        for name in service["environment"]:
            assert f'"{name}"' in read, f"{name} is set for the containers, and nothing reads it"


def test_the_example_names_every_value_that_has_to_be_filled_in_and_no_other():
    asked = set(re.findall(r"\$\{(\w+)", TEXT))
    offered = set(re.findall(r"^(\w+)=", (ROOT / ".env.example").read_text(), re.MULTILINE))
    assert offered == asked


def test_secrets_have_no_default():
    for name in ("SECRET_KEY", "DB_PASSWORD", "SHOP_NAME"):
        assert f"${{{name}:?" in TEXT
        assert f"${{{name}:-" not in TEXT
    example = (ROOT / ".env.example").read_text()
    assert re.search(r"^SECRET_KEY=$", example, re.MULTILINE)
    assert re.search(r"^DB_PASSWORD=$", example, re.MULTILINE)


def test_only_the_door_with_tls_is_open_to_the_outside():
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["tls"]


def test_tables_are_brought_up_to_date_before_anything_else_runs():
    for name in OURS:
        after = OURS[name]["depends_on"]
        assert after["db"]["condition"] == "service_healthy"
        if name != "migrate":
            assert after["migrate"]["condition"] == "service_completed_successfully"
            assert after["redis"]["condition"] == "service_healthy"


def test_all_our_processes_share_the_folder_of_drawings_and_every_volume_is_declared():
    declared = set(yaml.safe_load(TEXT)["volumes"])
    assert all(service["volumes"] == ["files:/data"] for service in OURS.values())
    used = {volume.split(":")[0] for service in SERVICES.values() for volume in service.get("volumes", [])}
    assert used == declared


def test_the_image_runs_a_python_that_the_project_takes_and_not_as_root():
    lines = (ROOT / "Dockerfile").read_text().splitlines()
    version = re.search(r"FROM python:(\d+)\.(\d+)-slim", lines[1])
    lowest = re.search(
        r">=(\d+)\.(\d+)", tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"]
    )
    assert tuple(map(int, version.groups())) >= tuple(map(int, lowest.groups()))
    assert "USER shop" in lines
    assert not any(line.startswith("FROM") for line in lines[2:])


def test_what_the_image_needs_is_sent_to_its_build():
    let_in = {line[1:] for line in (ROOT / ".dockerignore").read_text().split() if line.startswith("!")}
    assert {"manage.py", "nesting", "shopfloor", "templates", "pyproject.toml", "requirements.lock"} <= let_in
    assert all((ROOT / name).exists() for name in let_in)


def test_commands_start_programs_of_the_lock_file():
    lock = (ROOT / "requirements.lock").read_text()
    for service in OURS.values():
        program = shlex.split(service["command"])[0]
        assert program == "python" or re.search(rf"^{program}==", lock, re.MULTILINE)
