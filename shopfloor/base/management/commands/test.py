"""Runs the tests of the whole project with pytest, in place of Django's own runner."""

import os
import subprocess
import sys
from typing import NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Runs the tests. What follows is handed to pytest: a path, -k, -m, -x …"
    requires_system_checks = ()

    def run_from_argv(self, argv: list[str]) -> None:
        """Whatever stands behind the command is pytest's, so it does not go through Django's parser."""
        run_tests(argv[2:])


def run_tests(args: list[str]) -> NoReturn:
    """Becomes pytest, in an interpreter of its own: this one has the shop's settings loaded already, and the tests have
    settings and a data folder of their own.
    """
    environment = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}
    command = [sys.executable, "-m", "pytest", *args]
    os.chdir(settings.BASE_DIR)
    sys.stdout.flush()
    if os.name == "nt":  # exec there returns to the prompt while the tests still run
        sys.exit(subprocess.call(command, env=environment))
    os.execve(command[0], command, environment)  # noqa: S606 - there is nothing for a shell to do
