"""What those who watch the server are told."""

from datetime import timedelta

import pytest
from django.db import OperationalError, connection
from django.utils import timezone

from shopfloor.base.worker_seen import mark_worker_seen
from shopfloor.parts.models import Drawing
from tests.factories.parts import DrawingFactory


@pytest.fixture
def worker_seen(tmp_path, settings):
    settings.DATA_DIR = tmp_path
    mark_worker_seen()
    return tmp_path / "worker-seen"


def wait_since(drawing, seconds, **fields):
    Drawing.objects.filter(pk=drawing.pk).update(queued_at=timezone.now() - timedelta(seconds=seconds), **fields)


def test_alive_needs_no_sign_in_and_no_database(client):
    # No `db` fixture: a query would be an error of this test.
    answer = client.get("/alive/")
    assert (answer.status_code, answer.content) == (200, b"alive\n")
    assert "no-store" in answer["Cache-Control"]


def test_alive_and_ready_are_not_sent_on_to_https(client, settings, db, worker_seen):
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/alive/").status_code == 200
    assert client.get("/ready/").status_code == 200


def test_a_server_with_a_worker_and_nothing_to_do_is_ready(client, db, worker_seen):
    answer = client.get("/ready/")
    told = answer.json()
    assert answer.status_code == 200
    assert told["ready"] is True
    assert told["faults"] == []
    assert told["waiting"]["drawing"] == {"count": 0, "at_work": 0, "oldest_s": None}


def test_without_a_worker_it_is_not_ready(client, db, worker_seen):
    worker_seen.unlink()
    answer = client.get("/ready/")
    assert answer.status_code == 503
    assert answer.json()["faults"] == ["No worker was ever seen."]


def test_work_that_waits_a_moment_is_no_fault(client, db, worker_seen):
    wait_since(DrawingFactory(state="queued"), 10)
    answer = client.get("/ready/")
    assert answer.status_code == 200
    assert answer.json()["waiting"]["drawing"]["count"] == 1
    assert answer.json()["waiting"]["drawing"]["oldest_s"] == pytest.approx(10, abs=5)


def test_work_that_waits_long_while_nobody_works_is_a_fault(client, db, worker_seen):
    wait_since(DrawingFactory(state="queued"), 300)
    answer = client.get("/ready/")
    assert answer.status_code == 503
    assert answer.json()["faults"][0].startswith("The oldest drawing has waited 30")


def test_work_that_waits_behind_other_work_is_no_fault(client, db, worker_seen):
    wait_since(DrawingFactory(state="queued"), 300)
    lease = timezone.now() + timedelta(seconds=20)
    wait_since(DrawingFactory(state="queued"), 400, state="reading", lease_until=lease)
    answer = client.get("/ready/")
    assert answer.status_code == 200
    assert answer.json()["waiting"]["drawing"]["at_work"] == 1


def test_a_database_that_is_away_is_said_without_its_name(client, db, worker_seen, monkeypatch):
    def away(*_):
        raise OperationalError("connection to server at db.example failed: password of shop")

    with monkeypatch.context() as patched:
        patched.setattr(connection, "cursor", away)
        answer = client.get("/ready/")
    assert answer.status_code == 503
    assert answer.json()["faults"] == ["The database does not answer."]
    assert "example" not in answer.content.decode()


def test_a_get_of_health_changes_nothing_and_a_post_is_refused(client, db, worker_seen):
    assert client.post("/alive/").status_code == 405
    assert client.post("/ready/").status_code == 405
