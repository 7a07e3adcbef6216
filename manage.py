#!/usr/bin/env python3
"""Django's entry, and before that the way to an environment that has Django.

`python3 manage.py <command>` works on a fresh clone: where the project's own `.venv` is missing or older than
`requirements.lock`, it is made first, and the command runs again in there. Only the standard library is used, and only
what Python 3.9 knows, because the `python3` of the machine may be older than the 3.12 that the project needs.
`SHOP_NO_BOOTSTRAP=1` says that this Python already has what it takes (a container image).
"""

from __future__ import annotations

import contextlib
import glob
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV, TOOLS, LOCK = ROOT / ".venv", ROOT / ".tools", ROOT / "requirements.lock"
STAMP = VENV / "installed.sha256"
WINDOWS = os.name == "nt"
EXE = ".exe" if WINDOWS else ""
PYTHON = VENV / ("Scripts/python.exe" if WINDOWS else "bin/python")
NEEDED = ">=3.12,<3.15"
LIBRARIES = TOOLS / "libraries"
LIBRARY_PACKAGES = (
    "libmd0",
    "libbsd0",
    "libxdmcp6",
    "libxau6",
    "libxcb1",
    "libx11-6",
    "libglvnd0",
    "libglx0",
    "libgl1",
)
# In this order each finds those that it needs loaded already.
LIBRARY_NAMES = "libmd libbsd libXdmcp libXau libxcb libX11 libGLdispatch libGLX libGL"
LOAD_LIBRARIES = """# Written by manage.py: see fetch_libraries there.
import ctypes, glob
for name in {names!r}.split():
    for path in glob.glob({folder!r} + "/usr/lib/*/" + name + ".so.[0-9]"):
        try:
            ctypes.CDLL(path)
        except OSError:
            pass
"""
SENT_HERE = "SHOP_SENT_BY_BOOTSTRAP"


def main() -> None:
    sent_here = os.environ.pop(SENT_HERE, "")
    if os.environ.get("SHOP_NO_BOOTSTRAP") != "1":
        if not is_ready():
            with one_at_a_time():
                if not is_ready():
                    prepare()
        if Path(sys.prefix).resolve() != VENV.resolve():
            if sent_here:
                sys.exit(f"{PYTHON} does not run as a part of .venv. Delete the folder .venv and try again.")
            run_again()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


def is_ready() -> bool:
    """Whether .venv holds what the lock file says; a `.venv` that somebody filled by hand is filled once more."""
    return PYTHON.exists() and STAMP.exists() and STAMP.read_text() == lock_hash()


def lock_hash() -> str:
    return hashlib.sha256(LOCK.read_bytes()).hexdigest()


def prepare() -> None:
    uv = find_uv() or install_uv()
    say("Preparing the project's own environment in .venv; the first time takes some minutes on a slow line.")
    if not works(str(PYTHON), "-c", "import sys; sys.exit(sys.version_info < (3, 12))"):
        shutil.rmtree(VENV, ignore_errors=True)
        step(uv, "venv", "--quiet", "--no-project", "--python", NEEDED, str(VENV))
    STAMP.unlink(missing_ok=True)
    step(uv, "pip", "sync", "--quiet", "--require-hashes", "--python", str(PYTHON), str(LOCK))
    if sys.platform == "linux" and not opens_step():
        fetch_libraries()
    STAMP.write_text(lock_hash())


def find_uv() -> str | None:
    """A uv that runs: on the PATH there may be stand-ins of version managers that do not."""
    folders = [str(TOOLS / "bin"), *os.get_exec_path()]
    found = (shutil.which("uv" + EXE, path=folder) for folder in folders)
    return next((uv for uv in found if uv and works(uv, "--version")), None)


def install_uv() -> str:
    say("Fetching uv, which installs Python packages, into .tools.")
    pip = [sys.executable, "-m", "pip"]
    environment = {**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_ROOT_USER_ACTION": "ignore"}
    if not works(*pip, "--version"):
        environment["PYTHONPATH"] = os.pathsep.join(debian_pip())
    if not works(*pip, "--version", environment=environment):
        sys.exit(
            "This Python has no pip, and there is no uv. "
            "Install one of them (on Debian or Ubuntu: apt install python3-pip) and try again."
        )
    step(*pip, "install", "--quiet", "--upgrade", "--target", str(TOOLS), "uv", environment=environment)
    uv = find_uv()
    if uv is None:
        sys.exit("uv was installed into .tools but does not run here. Install uv by hand and try again.")
    return uv


def debian_pip() -> list[str]:
    """Paths of the pip that Debian and Ubuntu keep apart from Python."""
    unpack_from_debian(TOOLS / "pip", "python3-pip-whl", "python-pip-whl")
    return glob.glob(str(TOOLS / "pip/usr/share/python-wheels/*.whl"))


def opens_step() -> bool:
    """Whether Open CASCADE, which reads STEP, finds the shared libraries it is linked to."""
    return works(str(PYTHON), "-c", "import OCP.gp")


def fetch_libraries() -> None:
    """A computer without a screen has no libGL and libX11. Nothing is drawn with them, but they must be there."""
    say("Fetching the shared libraries that reading STEP takes, into .tools.")
    unpack_from_debian(LIBRARIES, *LIBRARY_PACKAGES)
    for packages in VENV.glob("lib/python*/site-packages"):
        # Whatever Python of this environment starts, the server's children too, has them loaded before they are sought.
        (packages / "shop_libraries.py").write_text(LOAD_LIBRARIES.format(folder=str(LIBRARIES), names=LIBRARY_NAMES))
        (packages / "shop_libraries.pth").write_text("import shop_libraries\n")
    if not opens_step():
        say(
            "STEP files cannot be read on this computer until libGL and libX11 are there "
            "(on Debian or Ubuntu: apt install libgl1 libx11-6). DXF files can."
        )


def unpack_from_debian(folder: Path, *packages: str) -> None:
    """Unpacks Debian's or Ubuntu's packages into a folder, as far as they are to be had; installs nothing."""
    if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
        return
    folder.mkdir(parents=True, exist_ok=True)
    may_update = os.geteuid() == 0
    for package in packages:
        fetched = works("apt-get", "download", package, cwd=folder)
        if not fetched and may_update:  # a new container has no package lists yet
            may_update = False
            fetched = works("apt-get", "update") and works("apt-get", "download", package, cwd=folder)
        if fetched:
            for file in folder.glob(package + "_*.deb"):
                works("dpkg-deb", "-x", str(file), str(folder))
                file.unlink()


def works(*command: str, environment: dict[str, str] | None = None, cwd: Path | None = None) -> bool:
    try:
        done = subprocess.run(
            command, env=environment, cwd=cwd, capture_output=True, stdin=subprocess.DEVNULL, check=False
        )
    except OSError:
        return False
    return done.returncode == 0


def step(*command: str, environment: dict[str, str] | None = None) -> None:
    """Runs one command of the preparation, its words shown; ends the program with a sentence where it fails."""
    if subprocess.run(command, env=environment, cwd=ROOT, stdin=subprocess.DEVNULL, check=False).returncode != 0:
        sys.exit(
            "The environment could not be prepared; the lines above say why. It takes a package index to install from "
            "(the network, or a mirror set up for pip and uv), 1.5 GB of disk, and Python 3.12 or newer, "
            "or leave to fetch one. Then run the same command again."
        )


@contextlib.contextmanager
def one_at_a_time() -> Iterator[None]:
    """Holds a lock, so that two commands started together do not write into one another's environment."""
    TOOLS.mkdir(exist_ok=True)
    with open(TOOLS / "lock", "a") as handle:
        if WINDOWS:
            import msvcrt
            import time

            while True:
                with contextlib.suppress(OSError):
                    msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
                    break
                time.sleep(0.5)
        else:
            import fcntl

            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                say("Another command is preparing the environment; waiting for it.")
                fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def run_again() -> None:
    command = [str(PYTHON), str(ROOT / "manage.py"), *sys.argv[1:]]
    environment = {**os.environ, SENT_HERE: "1"}
    sys.stdout.flush()
    if WINDOWS:  # exec there returns to the prompt while the command still runs
        sys.exit(subprocess.call(command, env=environment))
    os.execve(command[0], command, environment)  # noqa: S606 - there is nothing for a shell to do


def say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
