"""What opening the dashboard to a network needs kept: a passphrase's hash, and what signs its sessions."""

from __future__ import annotations

import json
import os
import secrets
import threading
import unicodedata
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from dashboard.errors import ServeError

FILE = "lan.json"
"""Beside shop.toml, readable by its owner only."""
SHORTEST = 8
SECRET_BYTES = 32


class Keep:
    """The hash of a shop's passphrase, the secret its sessions are signed with, and the sessions ended early.

    The passphrase is hashed with Argon2id (RFC 9106, the second recommended set of parameters).
    Every method may be called from several threads.
    """

    def __init__(self, path: Path, hashed: str, secret: str, ended: Mapping[str, float]) -> None:
        self.path = path
        self.hashed = hashed
        self.secret = secret
        self._ended = dict(ended)
        self._lock = threading.Lock()

    def matches(self, passphrase: str) -> bool:
        """Whether that is the passphrase; takes as long for a wrong one, whatever is wrong with it."""
        from argon2 import PasswordHasher
        from argon2.exceptions import VerificationError

        try:
            return PasswordHasher().verify(self.hashed, _as_kept(passphrase))
        except VerificationError:
            return False

    def has_ended(self, session: str) -> bool:
        """Whether somebody signed out of that session."""
        return session in self._ended

    def end(self, session: str, until: float, now: float) -> None:
        """Refuse that session from now on, after a restart too; it would have ended by itself at `until`.

        Times are seconds since 1970. OSError where the file cannot be written; it has ended until a restart.
        """
        with self._lock:
            self._ended[session] = until
            self._ended = {name: time for name, time in self._ended.items() if time > now}
            self._write()

    def _write(self) -> None:
        text = json.dumps({"passphrase": self.hashed, "secret": self.secret, "ended": self._ended}, indent=1)
        beside = self.path.with_name(f".{self.path.name}.{secrets.token_hex(4)}")
        try:
            with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:  # noqa: PTH123
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            beside.replace(self.path)
        except OSError:
            with suppress(OSError):
                beside.unlink()
            raise


def load_keep(folder: Path) -> Keep | None:
    """What a shop's folder keeps, None where nothing; ServeError where it cannot be trusted or read."""
    path = folder / FILE
    try:
        text, mode = path.read_text(encoding="utf-8"), path.stat().st_mode
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise ServeError(_unusable(path)) from error
    if mode & 0o077:
        raise ServeError(
            f"{path} can be read by others on this computer; "
            f"choose another passphrase with --new-passphrase, or trust it again with: chmod 600 {path}"
        )
    try:
        kept = json.loads(text)
        keep = Keep(path, str(kept["passphrase"]), str(kept["secret"]), dict(kept["ended"]))
    except (ValueError, TypeError, KeyError) as error:
        raise ServeError(_unusable(path)) from error
    if len(keep.secret) < SECRET_BYTES or not keep.hashed.startswith("$argon2id$"):
        raise ServeError(_unusable(path))
    return keep


def make_keep(folder: Path, passphrase: str) -> Keep:
    """Keep that passphrase from now on, and end every session begun with an earlier one.

    ServeError where it is too short. OSError where the file cannot be written.
    """
    from argon2 import PasswordHasher

    if why := too_short(passphrase):
        raise ServeError(why)
    hashed = PasswordHasher().hash(_as_kept(passphrase))
    keep = Keep(folder / FILE, hashed, secrets.token_hex(SECRET_BYTES), {})
    keep._write()
    return keep


def too_short(passphrase: str) -> str:
    """Why that passphrase is refused, "" where it is not."""
    if len(_as_kept(passphrase)) >= SHORTEST:
        return ""
    return (
        f"the passphrase is shorter than {SHORTEST} characters; four or five words are good, and easy to type"
    )


def _as_kept(passphrase: str) -> str:
    """The same whichever keyboard typed it: accents composed, the space that a phone adds left out."""
    return unicodedata.normalize("NFC", passphrase).strip()


def _unusable(path: Path) -> str:
    return f"{path} cannot be used; choose another passphrase with: dryfit serve --lan --new-passphrase"
