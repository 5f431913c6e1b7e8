"""Writes a starter shop: a commented shop.toml and one commented plan, both invented."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from qa.errors import ShopError

FILES = ("shop.toml", "plans/tenor-ukulele.toml")


def write_starter(folder: Path) -> list[Path]:
    """Write the starter files into a folder and give their paths.

    ShopError where the folder already holds a shop or cannot be written.
    """
    if (folder / "shop.toml").exists():
        raise ShopError(f"{folder} already holds a shop.toml; name another folder")
    made = []
    try:
        for name in FILES:
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            source = resources.files("qa") / "starter_files" / Path(name).name
            target.write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
            made.append(target)
    except OSError as error:
        raise ShopError(f"{folder} cannot be written: {error.strerror}; name another folder") from error
    return made
