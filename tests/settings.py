"""The server's settings for its tests: the same, but with data in a folder of their own and a quick password hasher.

`DATABASE_URL` chooses the database as it does for the server. Messages go to a broker inside the test process that
nobody listens to, so no task runs unless a test runs it; tests that start real workers tell those their broker.
"""

import os
import tempfile

os.environ["SHOP_DATA"] = tempfile.mkdtemp(prefix="shop-tests-")
WORKERS_BROKER_URL = os.environ.pop("BROKER_URL", "memory://")
os.environ.pop("SHOP_TLS", None)
os.environ.pop("SHOP_DEBUG", None)

from shopfloor.settings import *  # noqa: E402, F403 - the folder above must be known first

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
CELERY_TASK_ALWAYS_EAGER = False
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):  # noqa: F405
    # No test outlives a power cut, and with the server's own setting each waits for the disk at every commit.
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"  # noqa: F405
