"""The wheel, built and installed on every Python that it is said to run on and that this computer has."""

import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
from uv import find_uv_bin

HOUSE = Path(__file__).parent.parent
PROJECT = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LEAST, BEYOND = (int(number) for number in re.findall(r"3\.(\d+)", PROJECT["requires-python"]))
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
    done = subprocess.run([str(word) for word in words], cwd=cwd, capture_output=True, text=True, check=False)
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


@pytest.mark.parametrize("minor", range(LEAST, BEYOND))
def test_the_wheel_runs_on_every_python_it_names(minor, wheel, tmp_path):
    """Installed alone, it fills the demo shop and makes its pages."""
    found = interpreter(f"3.{minor}")
    if found is None:
        pytest.skip(f"Python 3.{minor} is not on this computer; install it to try the wheel on it")
    python, dryfit = tmp_path / "venv/bin/python", tmp_path / "venv/bin/dryfit"
    run(find_uv_bin(), "venv", "--quiet", "--python", found, tmp_path / "venv")
    run(find_uv_bin(), "pip", "install", "--quiet", "--python", python, wheel)

    assert run(python, "--version").startswith(f"Python 3.{minor}.")
    assert "3217 readings loaded" in run(dryfit, "demo", "shop", "--no-serve", cwd=tmp_path)
    assert run(python, "-c", LOOK, cwd=tmp_path) == "pages made\n"
