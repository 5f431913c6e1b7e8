"""The ports of this computer, and ports as pyserial makes them with its habits worked around."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass

import serial

from drivers.errors import LineError
from drivers.profile import LineSettings

_READ_SECONDS = 0.05
_WRITE_SECONDS = 1.0


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port of this computer."""

    device: str
    description: str


def ports() -> list[Port]:
    """The serial ports this computer knows, sorted; network lines are not listed."""
    from serial.tools import list_ports

    return sorted(
        (Port(each.device, each.description or "") for each in list_ports.comports()),
        key=lambda port: port.device,
    )


def make_port(url: str, settings: LineSettings) -> serial.Serial:
    """A closed port for `url`; LineError for a kind of line that is not known."""
    device = "://" not in url
    try:
        port = serial.serial_for_url(
            url,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.bytesize,
            parity=settings.parity,
            stopbits=settings.stopbits,
            timeout=_READ_SECONDS,
            # pyserial's rfc2217 client refuses a write timeout, and only a device can be held exclusively.
            write_timeout=None if url.lower().startswith("rfc2217:") else _WRITE_SECONDS,
            exclusive=True if device else None,
        )
        if is_socket(url):
            # pyserial throws away what has come in while a socket opens; here that is the first reading.
            port.reset_input_buffer = lambda: None  # type: ignore[method-assign]  # for good
        return port
    except (ValueError, OSError) as error:
        raise LineError(f"{url}: not a line that can be opened: {error}") from error


def is_socket(url: str) -> bool:
    """Whether a URL names a TCP connection."""
    return url.lower().startswith("socket:")


def shut(port: serial.Serial) -> None:
    """Close a port whatever state it is in."""
    # pyserial forgets to close its socket where the other end closed first.
    socket = getattr(port, "_socket", None)
    with contextlib.suppress(OSError):
        port.close()
    if socket is not None:
        socket.close()
