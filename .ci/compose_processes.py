"""Runs the processes of docker-compose.yml without containers: the same commands, settings and health checks, against
the PostgreSQL and Redis that DATABASE_URL and BROKER_URL name. Fails where one does not start, a health check does not
pass, plain requests are not sent on to https, a drawing is not read, or a nest of the demo is not laid out.

Only what a container gives is put in its place: addresses of the two servers, the data folder, the port, and programs
from this environment. Images, volumes and the TLS proxy are not tried by this.
"""

import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

import yaml

ROOT = Path(__file__).resolve().parent.parent
PATIENCE_S = 120
NAMES = {"SECRET_KEY": "x" * 60, "DB_PASSWORD": "unused", "SHOP_NAME": "shop.example"}

GIVE_WORK = """
import io, time, ezdxf
from django.core.files.base import ContentFile
from shopfloor.accounts.models import User
from shopfloor.parts.upload import take_file
from shopfloor.planning.demand import waiting_groups
from shopfloor.planning.request import ask_for_nest

document = ezdxf.new("R2010")
document.header["$INSUNITS"] = 4
document.modelspace().add_lwpolyline([(0, 0), (81, 0), (81, 41), (0, 41)], close=True)
text = io.StringIO()
document.write(text)
drawing = take_file(ContentFile(text.getvalue().encode(), name="plate.dxf"), "plate.dxf")
group = next(group for group in waiting_groups())
nest = ask_for_nest(group.key, by=User.objects.get(username="edda"), budget_s=5)
for row, unfinished in ((drawing, ("queued", "reading")), (nest, ("queued", "laying"))):
    for _ in range(600):
        row.refresh_from_db()
        if row.state not in unfinished:
            break
        time.sleep(0.1)
    print(row.state)
"""


def interpolated(value, environment):
    """The value with compose's `${NAME}`, `${NAME-default}`, `${NAME:-default}` and `${NAME:?message}` filled in."""
    if isinstance(value, dict):
        return {key: interpolated(item, environment) for key, item in value.items()}
    if isinstance(value, list):
        return [interpolated(item, environment) for item in value]
    if not isinstance(value, str):
        return value
    return re.sub(
        r"\$\{(\w+)(?:(:?[-?])([^}]*))?\}",
        lambda match: environment.get(match[1]) or (match[3] if (match[2] or "").endswith("-") else "") or "",
        value,
    )


def command_line(words, port, data):
    """The words as they run here: programs of this environment, our port and our data folder."""
    programs = Path(sys.executable).parent
    first = sys.executable if words[0] == "python" else str(programs / words[0])
    rest = [re.sub(r"(web|0\.0\.0\.0|127\.0\.0\.1):8000", f"127.0.0.1:{port}", word) for word in words[1:]]
    return [first, *(word.replace("/data", str(data)).replace("/tmp/beat", f"{data}/beat") for word in rest)]  # noqa: S108


class Processes:
    def __init__(self, data):
        self.data = data
        self.services = interpolated(yaml.safe_load((ROOT / "docker-compose.yml").read_text()), NAMES)["services"]
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.running = {}

    def environment(self, name):
        stated = {key: str(value) for key, value in self.services[name]["environment"].items()}
        own = {key: os.environ[key] for key in ("DATABASE_URL", "BROKER_URL")}
        image = {"SHOP_NO_BOOTSTRAP": "1", "SHOP_DATA": str(self.data), "DJANGO_SETTINGS_MODULE": "shopfloor.settings"}
        return {"PATH": os.environ["PATH"], "HOME": str(self.data), "PYTHONPATH": str(ROOT), **stated, **image, **own}

    def command(self, name):
        return command_line(shlex.split(self.services[name]["command"]), self.port, self.data)

    def once(self, command, name, **options):
        return subprocess.run(command, env=self.environment(name), cwd=ROOT, check=False, timeout=PATIENCE_S, **options)

    def start(self, name):
        log = open(self.data / f"{name}.log", "wb")  # noqa: SIM115 - open as long as the process
        self.running[name] = subprocess.Popen(
            self.command(name), env=self.environment(name), cwd=ROOT, stdout=log, stderr=log, start_new_session=True
        )

    def wait_until_healthy(self, name):
        check = command_line(self.services[name]["healthcheck"]["test"][1:], self.port, self.data)
        deadline = time.monotonic() + PATIENCE_S
        while self.once(check, name, capture_output=True).returncode != 0:
            if self.running[name].poll() is not None or time.monotonic() > deadline:
                sys.exit(f"{name} is not healthy. Its log:\n{self.log(name)}")
            time.sleep(0.5)
        print(f"{name}: healthy", flush=True)

    def log(self, name):
        return (self.data / f"{name}.log").read_text()[-3000:]

    def stop(self):
        for process in self.running.values():
            process.terminate()
        for name, process in self.running.items():
            try:
                process.wait(30)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                print(f"{name}: had to be killed")

    def status(self, path, **headers):
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", headers=headers)
        opener = urllib.request.build_opener(NoRedirect)
        try:
            return opener.open(request, timeout=20).status
        except urllib.error.HTTPError as fault:
            return fault.code


class NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_):
        return None


def main():
    with tempfile.TemporaryDirectory() as folder:
        processes = Processes(Path(folder))
        ours = [name for name, service in processes.services.items() if service["image"] == "shopfloor"]
        # The demo goes in before the workers start: it does its work by itself and must find it undone.
        for command in (processes.command("migrate"), [sys.executable, "manage.py", "demo"]):
            if processes.once(command, "migrate", stdout=subprocess.DEVNULL).returncode != 0:
                sys.exit(f"{' '.join(command)} failed.")
        ours.remove("migrate")
        try:
            for name in ours:
                processes.start(name)
            for name in ours:
                processes.wait_until_healthy(name)
            plain = processes.status("/", Host="shop.example")
            secure = processes.status("/alive/", Host="shop.example", **{"X-Forwarded-Proto": "https"})
            stranger = processes.status("/", Host="other.example", **{"X-Forwarded-Proto": "https"})
            if (plain, secure, stranger) != (301, 200, 400):
                sys.exit(f"Plain, secure and foreign requests got {plain}, {secure} and {stranger}, not 301, 200, 400.")
            shell = [sys.executable, "manage.py", "shell", "--no-imports", "-c", GIVE_WORK]
            said = processes.once(shell, "web", capture_output=True, text=True)
            if said.stdout.split()[-2:] != ["usable", "ready"]:
                logs = "\n".join(processes.log(name) for name in ours)
                sys.exit(f"A drawing and a nest came to {said.stdout!r}. {said.stderr}\n{logs}")
            print("a drawing was read and a nest laid out, each by its worker", flush=True)
        finally:
            processes.stop()


if __name__ == "__main__":
    main()
