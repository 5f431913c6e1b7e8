"""Writes what was found of an instrument into shop.toml, comments kept."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import tomlkit

from qa.errors import ShopError
from qa.shop import FILE
from qa.whole import write_whole

if TYPE_CHECKING:
    from drivers.profile import LineSettings


def write_section(
    folder: Path,
    instrument: str,
    profile: str,
    url: str | None,
    line: LineSettings | None = None,
    quantity: str = "length",
) -> str:
    """Write the instrument's profile (and url) into shop.toml, comments kept; gives what was written.

    With a `line` unlike the profile's own a copy of the profile is written beside shop.toml. ShopError for
    a name that cannot be a key, or a file that cannot be written.
    """
    if not re.fullmatch(r"[\w.-]+", instrument):
        raise ShopError(f"{instrument!r} is no name for an instrument: use letters, digits, - and _")
    path = folder / FILE
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
        tables = document.setdefault("instruments", tomlkit.table(is_super_table=True))
        if instrument not in tables:
            tables[instrument] = tomlkit.table()
            if quantity != "length":
                tables[instrument]["quantity"] = quantity
        section = tables[instrument]
        section["profile"] = profile if line is None else _copy_profile(folder, instrument, profile, line)
        if url is not None:
            section["url"] = url
        write_whole(path, tomlkit.dumps(document))
    except OSError as error:
        raise ShopError(f"{path} cannot be written: {error.strerror}") from error
    with_url = f", url = {url!r}" if url else ""
    return f"[instruments.{instrument}] profile = {section['profile']!r}{with_url}"


def _copy_profile(folder: Path, instrument: str, profile: str, line: LineSettings) -> str:
    source = resources.files("drivers") / "profiles" / f"{profile}.toml"
    document = tomlkit.parse(source.read_text(encoding="utf-8"))
    parity = {"N": "none", "E": "even", "O": "odd"}[line.parity]
    settings = {
        "baud": line.baud,
        "bytesize": line.bytesize,
        "parity": parity,
        "stopbits": f"{line.stopbits:g}",
    }
    for name, value in settings.items():
        document["line"][name] = value
    name = f"{instrument}.toml"
    write_whole(folder / name, tomlkit.dumps(document))
    return name
