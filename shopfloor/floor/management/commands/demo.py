"""`manage.py demo`: draws the demo's part files and fills an empty database with a small shop to play with."""

import tempfile
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopfloor.accounts.models import User
from shopfloor.floor.demo.set_up import PASSWORD, PEOPLE, set_up
from shopfloor.floor.demo.sheet_parts import write_faulty, write_sheet_parts
from shopfloor.floor.demo.tube_parts import write_tube_parts
from shopfloor.floor.demo.work import enter_work


class Command(BaseCommand):
    help = "Fill an empty database with Quillmarsh Fabrication, an invented shop with work in every state."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--files", type=Path, metavar="FOLDER", help="Only write the demo's part files there.")
        parser.add_argument(
            "--sign-ins", action="store_true", help="Only print the demo's sign-ins, if this shop is the demo."
        )

    def handle(self, *args: Any, files: Path | None = None, sign_ins: bool = False, **options: Any) -> None:
        if files is not None:
            for path in write_all(files):
                self.stdout.write(str(path))
            return
        if sign_ins:
            if not User.objects.filter(username=PEOPLE[0][0]).exists():
                raise CommandError("This shop is not the demo, so the demo's sign-ins do not open it.")
            self.stdout.write(table_of_sign_ins())
            return
        if User.objects.exists():
            message = "The demo goes only into an empty database; this one has users. Set SHOP_DATA to a new folder."
            raise CommandError(message)
        with tempfile.TemporaryDirectory() as folder:
            self.stdout.write("Drawing the demo's part files …")
            write_all(Path(folder))
            people = set_up()
            enter_work(Path(folder), people, lambda what: self.stdout.write(f"Entering {what} …"))
        if options["verbosity"]:
            self.stdout.write(table_of_sign_ins())


def write_all(folder: Path) -> list[Path]:
    """Every part file of the demo, written into the folder."""
    return [*write_sheet_parts(folder), *write_tube_parts(folder), *write_faulty(folder)]


def table_of_sign_ins() -> str:
    """The demo's people as a table for the screen."""
    lines = ["Demo sign-ins (the password is the same for all; the PIN is for the tablet):"]
    for name, first, last, roles, pin in PEOPLE:
        lines.append(f"  {name:<7} {PASSWORD}  PIN {pin}  {first} {last}, {' and '.join(roles)}")
    return "\n".join(lines)
