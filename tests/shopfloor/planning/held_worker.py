"""A Celery worker whose engine says that it is at work and then waits until it is let go: the real worker otherwise.

Arguments: a folder, then those of Celery. The engine writes its process number to `at-work` in the folder and goes on
when there is a file `go-on`.
"""

import os
import sys
import time
from pathlib import Path

import django
from celery import Celery

from nesting import route
from tests import rows_by_hand


def main(folder, *arguments):
    os.environ["DJANGO_SETTINGS_MODULE"] = "shopfloor.settings"
    django.setup()

    def lay_out(job, **settings):
        (folder / "at-work.new").write_text(str(os.getpid()))
        (folder / "at-work.new").rename(folder / "at-work")
        while not (folder / "go-on").exists():
            time.sleep(0.05)
        return rows_by_hand.lay_out(job)

    route.lay_out = lay_out
    from shopfloor.celery import app

    assert isinstance(app, Celery)
    app.worker_main(list(arguments))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
