"""Why a serial line failed, in words that say what to do."""

from __future__ import annotations

import errno

_BUSY = "busy: another program has it open; close that one first"
_SEEN = {
    errno.ENOENT: "there is no such port: is the instrument plugged in and switched on?",
    errno.ENODEV: "the port has no instrument behind it: is it plugged in and switched on?",
    errno.ENXIO: "the port has no instrument behind it: is it plugged in and switched on?",
    errno.EACCES: "no permission: add yourself to the group that owns the port"
    " (dialout on Debian: `sudo usermod -aG dialout $USER`, then log in again)",
    errno.EPERM: "no permission: the port is held by another user",
    errno.EBUSY: _BUSY,
    errno.EAGAIN: _BUSY,
    errno.ENOTTY: "not a serial port",
    errno.EISDIR: "a folder, not a serial port",
    errno.EIO: "the port went away: unplugged, or switched off?",
    errno.EBADF: "the port went away: unplugged, or switched off?",
    errno.ECONNREFUSED: "nobody answers there: is the converter on, and the port number right?",
    errno.EHOSTUNREACH: "the network does not reach it",
    errno.ENETUNREACH: "the network does not reach it",
    errno.ETIMEDOUT: "no answer: is the converter on?",
}


def why_not(error: BaseException) -> str:
    """What went wrong with a line, from the error pyserial raised or the one behind it."""
    seen: BaseException | None = error
    while seen is not None:
        number = seen.args[0] if seen.args else None
        if isinstance(number, int) and number in _SEEN:
            return _SEEN[number]
        seen = seen.__cause__ or seen.__context__
    return f"the line failed ({error})"
