"""The manual names everything there is: commands, profiles of instruments, kinds of characteristics."""

from pathlib import Path

import pytest
import typer

from drivers.frames import profiles
from qa.characteristics import kinds
from qa.cli.app import app

HOUSE = Path(__file__).parent.parent


def _documents():
    texts = [HOUSE / name for name in ("README.md", "DEVELOPERS.md")]
    return "\n".join(path.read_text(encoding="utf-8") for path in texts if path.exists())


def _commands(group, path=()):
    for name, item in group.commands.items():
        inner = getattr(item, "commands", None)
        if inner:
            yield from _commands(item, (*path, name))
        else:
            yield " ".join((*path, name))


@pytest.mark.parametrize("command", sorted(_commands(typer.main.get_command(app))))
def test_every_command_is_in_the_manual(command):
    """A newcomer finds it."""
    assert f"dryfit {command}" in _documents()


@pytest.mark.parametrize("profile", sorted(profiles()))
def test_every_shipped_profile_is_in_the_manual(profile):
    """By the name shop.toml takes."""
    assert profile in _documents()


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_every_kind_of_characteristic_is_in_the_manual(kind):
    """By the name a plan takes."""
    assert f"`{kind}`" in _documents() or f'"{kind}"' in _documents()
