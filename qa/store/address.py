"""The address of a store as shop.toml writes it: told before anything is opened."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

SQLITE = "sqlite:///"
"""Before the path of a store in a file."""
ENV = "env:"
"""Before the name of an environment variable that holds the store's address, with its password if any."""


def absolute_store(url: str, folder: Path) -> str:
    """The store's URL with a relative SQLite file taken from the shop's folder.

    `env:NAME` stands for what the environment variable holds, and for itself where there is none.
    """
    if url.startswith(ENV):
        url = os.environ.get(url.removeprefix(ENV).strip()) or url
    if url.startswith(SQLITE) and not url.startswith(f"{SQLITE}/"):
        return f"{SQLITE}{folder / url.removeprefix(SQLITE)}"
    return url


def has_password(url: str) -> bool:
    """Whether a store's URL, as it is written, holds a password."""
    parts = urlsplit(url)
    return bool(parts.password) or "password" in parse_qs(parts.query)


def on_server(url: str) -> bool:
    """Whether the store is on a database server, which may be away."""
    return url.startswith("postgresql")
