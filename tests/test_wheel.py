"""The wheel, built and installed on every Python that it is said to run on and that this computer has."""

import fcntl
import os
import re
import shutil
import subprocess
import tomllib
from contextlib import contextmanager
from pathlib import Path

import pytest
from uv import find_uv_bin

HOUSE = Path(__file__).parent.parent
PROJECT = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LEAST, BEYOND = (int(number) for number in re.findall(r"3\.(\d+)", PROJECT["requires-python"]))
COMPILES = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
PYENV = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"))
LOOK = """
from importlib.resources import files
from pathlib import Path
from dashboard.app import make_app
assert files("qa").joinpath("py.typed").is_file() and files("drivers").joinpath("py.typed").is_file()
make_app(Path("shop"))
print("pages made")
"""


def run(*words, cwd=None):
    """What a program printed; its complaint where it fails."""
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env=COMPILES, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def interpreter(version):
    """A Python of that version that starts, or None."""
    named = shutil.which(f"python{version}")
    kept = sorted(PYENV.glob(f"versions/{version}.*/bin/python"))
    for found in [*kept, *filter(None, [named])]:
        if subprocess.run([found, "-c", "import venv"], capture_output=True, check=False).returncode == 0:
            return found
    return None


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The project built as it would be handed over."""
    folder = tmp_path_factory.mktemp("wheel")
    run(find_uv_bin(), "build", "--wheel", "--quiet", "--out-dir", folder, HOUSE)
    (found,) = folder.glob("*.whl")
    return found


@contextmanager
def installed(wheel, found, kept):
    """The programs of an environment with the wheel and what it needs, no more.

    It is kept for the next run, by one run at a time: the libraries are compiled at their first use.
    """
    with (kept / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        run(find_uv_bin(), "venv", "--quiet", "--allow-existing", "--python", found, kept / "venv")
        again = ("--exact", "--reinstall-package", PROJECT["name"])
        run(find_uv_bin(), "pip", "install", "--quiet", "--python", kept / "venv", *again, wheel)
        yield kept / "venv" / "bin"


@pytest.mark.parametrize("minor", range(LEAST, BEYOND))
def test_the_wheel_runs_on_every_python_it_names(minor, wheel, tmp_path, pytestconfig):
    """Installed alone, it fills the demo shop and makes its pages."""
    found = interpreter(f"3.{minor}")
    if found is None:
        pytest.skip(f"Python 3.{minor} is not on this computer; install it to try the wheel on it")
    with installed(wheel, found, pytestconfig.cache.mkdir(f"python-3.{minor}")) as programs:
        python, dryfit = programs / "python", programs / "dryfit"

        assert run(python, "--version").startswith(f"Python 3.{minor}.")
        assert "3217 readings loaded" in run(dryfit, "demo", "shop", "--no-serve", cwd=tmp_path)
        assert run(python, "-c", LOOK, cwd=tmp_path) == "pages made\n"
