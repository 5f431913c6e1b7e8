"""The tour of the README, run word for word in a shell."""

import re
import subprocess
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent


def _tour():
    text = (HOUSE / "README.md").read_text(encoding="utf-8")
    return text.split("## Five minutes with your own caliper")[1].split("### Your caliper on the line")[0]


def _blocks():
    return re.findall(r"```sh\n(.*?)```", _tour(), re.DOTALL)


@pytest.fixture(scope="module")
def told():
    """What a reader who runs every block sees."""
    script = "set -e\n" + "\n".join(_blocks())
    done = subprocess.run(["bash", "-c", script], cwd=HOUSE, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_tour_of_the_readme_does_what_it_says(told):
    """The twisted block is refused, and the planed one is glued."""
    assert "the gate is CLOSED. Next: work." in told
    assert "Take off" in told
    assert "the gate is OPEN. Next: glue." in told
    assert "The glue-up is recorded." in told
    assert told.index("CLOSED") < told.index("OPEN")


def test_what_the_tour_quotes_is_what_the_command_prints(told):
    """The lines quoted beside the blocks are lines of the real output."""
    quoted = re.findall(r"^    (\S.*|  \S.*)$", _tour(), re.MULTILINE)

    assert quoted
    assert [line for line in quoted if line not in told.splitlines()] == []
