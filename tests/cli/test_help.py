"""Every command explains itself, and explaining costs no heavy library."""

import os
import subprocess
import sys

import pytest
import typer

from qa.cli.app import app


def commands(group, path=()):
    """Every command of the app, as the words that run it."""
    for name, item in sorted(getattr(group, "commands", {}).items()):
        yield (*path, name)
        yield from commands(item, (*path, name))


ALL = list(commands(typer.main.get_command(app)))
PLANNED = {
    "demo", "new", "plan", "measure", "load", "check", "advise", "glueup", "drift", "caliper", "wood",
    "serve", "ticket", "export", "backup",
}  # fmt: skip


@pytest.mark.parametrize("words", [(), *ALL], ids=" ".join)
@pytest.mark.parametrize("flag", ["--help", "-h"])
def test_help_of_every_command(dryfit, words, flag):
    """Exit 0, its purpose, its usage; every option and argument has words."""
    found = dryfit(*words, flag)
    assert found.status == 0
    assert found.err == ""
    assert found.out.startswith(f"Usage: dryfit {' '.join(words)}".rstrip())
    assert len(found.out.splitlines()) > 5


def test_every_command_of_the_contract_is_there():
    """None is missing."""
    assert {words[0] for words in ALL} >= PLANNED


@pytest.mark.parametrize(
    "words", [words for words in ALL if words not in (("caliper",), ("wood",))], ids=" ".join
)
def test_every_command_shows_an_example(dryfit, words):
    """One line to copy, that names the command itself."""
    out = dryfit(*words, "--help").out
    example = [line for line in out.splitlines() if "Example:" in line]
    assert len(example) == 1
    assert f"dryfit {' '.join(words)}" in example[0]


def test_reporting_commands_speak_json(dryfit):
    """Each of them has --json."""
    for words in (
        "plan",
        "load",
        "check",
        "advise",
        "glueup",
        "drift",
        "backup",
        "wood emc",
        "wood movement",
    ):
        assert "--json" in dryfit(*words.split(), "--help").out, words


def test_without_arguments_it_shows_help(dryfit):
    """Nobody is left in front of nothing; the status says that nothing was asked."""
    found = dryfit()
    assert found.status in (0, 2)
    assert "Usage: dryfit" in found.out + found.err


def test_version(dryfit):
    """Which one this is."""
    found = dryfit("--version")
    assert found.status == 0
    assert found.out.startswith("dryfit 0.")


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["chek"], "chek"),
        (["check", "--jsn"], "--jsn"),
        (["measure"], "build"),
        (["load"], "files"),
        (["serve", "--port", "99999"], "--port"),
        (["serve", "--port", "http"], "--port"),
        (["check", "a", "b", "c"], "c"),
    ],
)
def test_wrong_use_is_one_line(refused, arguments, why):
    """What was not understood, and where help is."""
    line = refused(*arguments)
    assert why.lower() in line.lower()
    assert "see dryfit --help" in line


LIGHT = """
import sys
from qa.cli import run
assert run(["--help"]) == 0
heavy = {"pandas", "numpy", "scipy", "dash", "plotly", "sqlalchemy", "pandera", "serial", "uvicorn"}
print(sorted(heavy & set(sys.modules)), file=sys.stderr)
"""


def test_help_imports_nothing_heavy():
    """A glance at the help must not wait for pandas, dash or the database."""
    found = subprocess.run(
        [sys.executable, "-c", LIGHT], capture_output=True, text=True, check=True, env=os.environ
    )
    assert found.stderr.strip() == "[]"


def test_help_is_made_of_words_for_each_option(dryfit):
    """No option and no argument is left without its help, and no command is told cut short in a list."""
    for words in [(), *ALL]:
        command = typer.main.get_command(app)
        for word in words:
            command = command.commands[word]
        assert [item.name for item in command.params if not item.help] == [], words
        assert "..." not in dryfit(*words, "--help").out.partition("Commands:")[2], words
