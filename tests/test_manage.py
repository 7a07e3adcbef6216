"""The way from a fresh clone to an environment, in a copy of the project with a stand-in for uv.

The stand-in makes a real virtual environment and puts a `django` into it that prints what it was asked to do, so that
these tests show what runs where without a package index. `.ci/run` goes the same way with the real uv and Django.
"""

import ast
import importlib.util
import os
import subprocess
import sys
import sysconfig
from pathlib import Path

import django
import pytest

ROOT = Path(__file__).resolve().parent.parent

STAND_IN_FOR_UV = """#!{python}
import subprocess, sys, time, venv
from pathlib import Path
log = Path({log!r})
if sys.argv[1] == "venv":
    log.open("a").write("venv\\n")
    time.sleep(0.3)
    venv.create(sys.argv[-1], symlinks=True)
elif sys.argv[1] == "pip":
    log.open("a").write("sync\\n")
    if Path({log!r} + ".broken").exists():
        sys.exit("no package index here")
    python = sys.argv[sys.argv.index("--python") + 1]
    where = "import sysconfig; print(sysconfig.get_path('purelib'))"
    found = subprocess.run([python, "-c", where], capture_output=True, text=True, check=True).stdout.strip()
    package = Path(found) / "django" / "core"
    package.mkdir(parents=True, exist_ok=True)
    cascade = Path(found) / "OCP"
    cascade.mkdir(exist_ok=True)
    (cascade / "gp.py").write_text({cascade!r})
    (package / "management.py").write_text(
        "import sys\\ndef execute_from_command_line(argv): print(sys.prefix, *argv[1:], flush=True)\\n"
    )
"""


class Clone:
    """A copy of what the first step needs, with its own PATH."""

    def __init__(self, folder: Path) -> None:
        self.root, self.bin, self.log = folder / "clone", folder / "bin", folder / "log"
        self.root.mkdir()
        self.bin.mkdir()
        (self.root / "manage.py").write_text((ROOT / "manage.py").read_text())
        (self.root / "requirements.lock").write_text("django==1\n")

    def put_on_path(self, name: str, text: str) -> None:
        file = self.bin / name
        file.write_text(text)
        file.chmod(0o755)

    def with_uv(self, cascade: str = "") -> "Clone":
        """`cascade` is what the stand-in for the Open CASCADE bindings does when it is imported."""
        self.put_on_path("uv", STAND_IN_FOR_UV.format(python=sys.executable, log=str(self.log), cascade=cascade))
        return self

    def start(self, *args: str, python: str = sys.executable, **environment: str) -> subprocess.Popen[str]:
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("SHOP_", "PIP_", "UV_"))}
        return subprocess.Popen(
            [python, str(self.root / "manage.py"), *args],
            env={**kept, "PATH": str(self.bin), **environment},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def run(self, *args: str, python: str = sys.executable, **environment: str) -> tuple[int, str, str]:
        process = self.start(*args, python=python, **environment)
        out, err = process.communicate(timeout=60)
        return process.returncode, out, err

    @property
    def steps(self) -> list[str]:
        return self.log.read_text().split() if self.log.exists() else []


@pytest.fixture
def clone(tmp_path: Path) -> Clone:
    return Clone(tmp_path)


def bare_python(folder: Path) -> str:
    """A Python with neither pip nor any package, as Debian installs it."""
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(folder)], check=True)
    return str(folder / Path(sysconfig.get_path("scripts")).name / "python")


def test_any_command_makes_the_environment_first_and_then_runs_in_there(clone: Clone) -> None:
    code, out, err = clone.with_uv().run("up", "--demo")
    assert (code, out) == (0, f"{clone.root / '.venv'} up --demo\n")
    assert err.count("\n") == 1
    assert "Preparing" in err
    assert clone.steps == ["venv", "sync"]


def test_nothing_is_prepared_twice(clone: Clone) -> None:
    clone.with_uv().run("check")
    code, out, err = clone.run("check")
    assert (code, out, err) == (0, f"{clone.root / '.venv'} check\n", "")
    assert clone.steps == ["venv", "sync"]


def test_a_changed_lock_file_is_installed_into_the_same_environment(clone: Clone) -> None:
    clone.with_uv().run("check")
    (clone.root / "requirements.lock").write_text("django==2\n")
    assert clone.run("check")[0] == 0
    assert clone.steps == ["venv", "sync", "sync"]


def test_two_commands_started_at_once_prepare_once(clone: Clone) -> None:
    clone.with_uv()
    both = [clone.start("up"), clone.start("test")]
    said = [process.communicate(timeout=60) for process in both]
    assert [process.returncode for process in both] == [0, 0]
    assert [out.split()[-1] for out, _ in said] == ["up", "test"]
    assert clone.steps == ["venv", "sync"]


def test_a_failed_step_ends_with_a_sentence_and_is_done_again_next_time(clone: Clone) -> None:
    broken = clone.log.with_name("log.broken")
    broken.touch()
    code, out, err = clone.with_uv().run("check")
    assert (code, out) == (1, "")
    assert "no package index here" in err
    assert "run the same command again" in err
    broken.unlink()
    assert clone.run("check")[0] == 0


def test_a_damaged_environment_is_made_anew(clone: Clone) -> None:
    clone.with_uv().run("check")
    python = clone.root / ".venv" / "bin" / "python"
    python.unlink()
    assert clone.run("check")[1] == f"{clone.root / '.venv'} check\n"
    assert clone.steps == ["venv", "sync", "venv", "sync"]


def test_a_uv_that_does_not_run_is_passed_over(clone: Clone, tmp_path: Path) -> None:
    later = tmp_path / "later"
    later.mkdir()
    clone.with_uv()
    (clone.bin / "uv").rename(later / "uv")
    clone.put_on_path("uv", "#!/bin/sh\nexit 127\n")
    code, _, _ = clone.run("check", PATH=os.pathsep.join((str(clone.bin), str(later))))
    assert code == 0
    assert clone.steps == ["venv", "sync"]


def test_without_uv_and_without_pip_a_sentence_says_what_to_install(clone: Clone, tmp_path: Path) -> None:
    code, out, err = clone.run("up", python=bare_python(tmp_path / "bare"))
    assert (code, out) == (1, "")
    assert "apt install python3-pip" in err
    assert "Traceback" not in err


def test_a_pip_kept_apart_by_debian_fetches_uv(clone: Clone, tmp_path: Path) -> None:
    clone.with_uv()
    uv = tmp_path / "uv"
    (clone.bin / "uv").rename(uv)
    # A stand-in for the package: unpacking it gives a "wheel" whose pip puts uv where it is told to.
    clone.put_on_path("apt-get", f'#!{sys.executable}\nopen("python3-pip-whl_1_all.deb", "w")\n')
    clone.put_on_path(
        "dpkg-deb",
        f"#!{sys.executable}\n"
        "import pathlib, sys\n"
        "wheel = pathlib.Path(sys.argv[3], 'usr/share/python-wheels/pip.whl/pip')\n"
        "wheel.mkdir(parents=True)\n"
        "(wheel / '__main__.py').write_text('import os, shutil, sys\\n'\n"
        "    'if \"install\" in sys.argv:\\n'\n"
        '    \'    target = os.path.join(sys.argv[sys.argv.index("--target") + 1], "bin")\\n\'\n'
        f"    '    os.makedirs(target); shutil.copy(\"{uv}\", target)\\n')\n",
    )
    code, out, err = clone.run("up", python=bare_python(tmp_path / "bare"))
    assert (code, out) == (0, f"{clone.root / '.venv'} up\n")
    assert "Fetching uv" in err


NEEDS_LIBRARIES = (
    "import shop_libraries, pathlib\n"
    "if not list(pathlib.Path({folder!r}).glob('usr/lib/*/libGL.so.1')):\n"
    "    raise ImportError('libGL.so.1: cannot open shared object file')\n"
)
"""What the bindings say on a computer without a screen, until their libraries lie beside the project."""


def test_libraries_that_a_computer_without_a_screen_lacks_are_put_beside_the_project(clone: Clone) -> None:
    clone.with_uv(NEEDS_LIBRARIES.format(folder=str(clone.root / ".tools" / "libraries")))
    # Any library that a Python can load will do in place of libGL.
    small_library = importlib.util.find_spec("_time_machine").origin
    clone.put_on_path("apt-get", f'#!{sys.executable}\nimport sys\nopen(sys.argv[2] + "_1_amd64.deb", "w")\n')
    clone.put_on_path(
        "dpkg-deb",
        f"#!{sys.executable}\n"
        "import pathlib, shutil, sys\n"
        "folder = pathlib.Path(sys.argv[3], 'usr/lib/x86_64-linux-gnu')\n"
        "folder.mkdir(parents=True, exist_ok=True)\n"
        f"if 'libgl1' in sys.argv[2]: shutil.copy({small_library!r}, folder / 'libGL.so.1')\n",
    )
    code, out, err = clone.run("up")
    assert (code, out) == (0, f"{clone.root / '.venv'} up\n")
    assert "reading STEP takes" in err
    assert "cannot be read" not in err
    # Every Python of the environment has it loaded, however it was started.
    python = clone.root / ".venv" / "bin" / "python"
    loaded = subprocess.run(
        [python, "-c", "print(open('/proc/self/maps').read())"], capture_output=True, text=True, check=True
    )
    assert str(clone.root / ".tools/libraries/usr/lib/x86_64-linux-gnu/libGL.so.1") in loaded.stdout


def test_without_these_libraries_a_sentence_says_so_and_the_command_runs(clone: Clone) -> None:
    code, out, err = clone.with_uv("raise ImportError('libGL.so.1')").run("up")
    assert (code, out) == (0, f"{clone.root / '.venv'} up\n")
    assert "STEP files cannot be read" in err
    assert "apt install libgl1 libx11-6" in err


def test_an_image_that_is_ready_prepares_nothing(clone: Clone, tmp_path: Path) -> None:
    code, out, err = clone.with_uv().run("version", SHOP_NO_BOOTSTRAP="1")
    assert (code, err) == (0, "")
    assert out.strip() == django.get_version()
    assert clone.steps == []
    assert not (clone.root / ".venv").exists()


def test_the_first_part_is_read_by_python_3_9() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 9))
