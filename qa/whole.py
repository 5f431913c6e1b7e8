"""Files written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import uuid4


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file to write, which takes the place of `path` once all of it is on the disk.

    Until then it stands beside it, so that a reader sees the old content or the new one, never half of it;
    where writing fails nothing of it is left. It has the mode of the file it replaces. OSError where it
    cannot be written.
    """
    target = path.resolve()
    fresh = target.with_name(f".{target.name[:40]}-{uuid4().hex[:8]}")
    try:
        fresh.touch(target.stat().st_mode & 0o777 if target.exists() else 0o666, exist_ok=False)
        yield fresh
        with fresh.open("rb") as written:
            os.fsync(written.fileno())
        if target.exists():
            fresh.chmod(target.stat().st_mode & 0o777)
        fresh.replace(target)
    finally:
        with suppress(OSError):
            fresh.unlink()


def write_whole(path: Path, text: str) -> None:
    """Write a text as UTF-8, its line ends as they are, as `whole_file` does."""
    with whole_file(path) as fresh:
        fresh.write_bytes(text.encode())
