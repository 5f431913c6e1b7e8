"""`dryfit new` and `dryfit plan --draw`: a newcomer's first minutes, at a terminal and in a script."""

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

from qa.shop import load_shop
from qa.starter import STARTERS

PATIENCE = 20.0


def at_a_terminal(arguments: list[str], answers: list[tuple[str, str]]) -> tuple[int, str]:
    """Runs `dryfit` at a terminal, giving each answer once its question is asked; status and all it said."""
    ours, its = pty.openpty()
    program = [sys.executable, "-c", "from qa.cli import main; main()"]
    running = subprocess.Popen([*program, *arguments], stdin=its, stdout=its, stderr=its)
    os.close(its)
    said, until = "", time.monotonic() + PATIENCE
    waiting = list(answers)
    while time.monotonic() < until:
        if not select.select([ours], [], [], 0.1)[0]:
            if running.poll() is not None:
                break
            continue
        try:
            said += os.read(ours, 4096).decode()
        except OSError:  # the terminal's other end was closed
            break
        if waiting and waiting[0][0] in said.rpartition("\n")[2]:
            os.write(ours, f"{waiting.pop(0)[1]}\n".encode())
            said += "\n"
    os.close(ours)
    assert waiting == [], said
    return running.wait(PATIENCE), said


def test_a_script_is_asked_nothing(dryfit, tmp_path: Path) -> None:
    """Without a terminal the usual answers are taken, whatever waits on stdin."""
    assert dryfit("new", tmp_path / "fresh", typed="Not the name\n").status == 0
    assert load_shop(tmp_path / "fresh").name == "My shop"


def test_five_questions_at_a_terminal(tmp_path: Path) -> None:
    """Each is asked, a wrong answer is asked again, and the shop is as answered."""
    status, said = at_a_terminal(
        ["new", str(tmp_path / "shop")],
        [
            ("called?", "Berg & Tal"),
            ("mm or in?", "cm"),
            ("mm or in?", "in"),
            ("start from?", "lap-dulcimer"),
            ("caliper", "/dev/ttyACM0"),
            ("write its readings?", ""),
        ],
    )
    shop = load_shop(tmp_path / "shop")
    assert status == 0
    assert "Write one of mm, in." in said
    assert (shop.name, shop.unit, shop.instruments["caliper-1"].url) == ("Berg & Tal", "in", "/dev/ttyACM0")
    assert list(shop.plans) == ["lap-dulcimer"]


def test_only_what_was_not_said_is_asked(tmp_path: Path) -> None:
    """Options answer their questions; without a caliper its profile is not asked for."""
    _, said = at_a_terminal(
        ["new", str(tmp_path / "shop"), "--name", "X", "--unit", "mm", "--starter", "parlour-guitar"],
        [("caliper", "")],
    )
    assert "called?" not in said
    assert "write its readings?" not in said
    assert load_shop(tmp_path / "shop").name == "X"


@pytest.mark.parametrize("starter", STARTERS)
def test_the_next_commands_work_as_printed(dryfit, tmp_path: Path, starter: str) -> None:
    """What `new` says to do next can be done: the plan is valid, the first part has its ticket."""
    shop = tmp_path / "my shop"
    said = dryfit("new", shop, "--starter", starter).out
    part = STARTERS[starter][1]
    assert f"dryfit --shop '{shop}' measure FIRST-01 {part}" in said
    assert dryfit("--shop", shop, "plan").status == 0
    assert dryfit("--shop", shop, "ticket", "FIRST-01", part, "--out", tmp_path).status == 0
    assert dryfit("--shop", shop, "doctor").status == 0


def test_refusals(refused, folder: Path, tmp_path: Path) -> None:
    """A folder that is a shop, and answers that are not usable, are refused in one line."""
    assert "already holds a shop.toml" in refused("new", folder)
    assert "known: tenor-ukulele" in refused("new", tmp_path / "x", "--starter", "cello")
    assert not (tmp_path / "x").exists()


def test_a_plan_drawn(dryfit, refused, tmp_path: Path) -> None:
    """Each part of the plan is drawn on one page; the page is not replaced."""
    page = tmp_path / "faces.html"
    assert dryfit("plan", "--draw", page).status == 0
    text = page.read_text(encoding="utf-8")
    assert text.count('<svg xmlns="http://www.w3.org/2000/svg" class="face"') == 2
    assert "thickness: target 18.00 mm, 17.85 mm to 18.15 mm" in text
    assert str(page) in refused("plan", "--draw", page)
    assert page.read_text(encoding="utf-8") == text


def test_completion_is_offered(program) -> None:
    """The shell's completion script is printed for the shell that is named."""
    answer = program("--show-completion", "bash")
    assert answer.returncode == 0
    assert "_DRYFIT_COMPLETE" in answer.stdout
