"""Real lines: pseudo-terminals, TCP and RFC 2217, lost and found again."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import time
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest
import serial
import serial.rfc2217
from serial.urlhandler import protocol_socket

from drivers import serial_line, simulated
from drivers.errors import DriverError, LineError
from drivers.frames import BadRecord, Reading, encode, load_profile, profiles
from drivers.line_faults import why_not
from drivers.port import Port, ports
from drivers.profile import LineSettings
from drivers.serial_line import LineState, SerialLine, listen, open_line
from drivers.simulated import SimulatedCaliper

TEXT = load_profile("text-line")


@pytest.fixture
def quick(monkeypatch):
    """Waits shortened, so that a hundred losses take seconds; with DRYFIT_FAULTS=long as they are."""
    if os.environ.get("DRYFIT_FAULTS") == "long":
        return
    monkeypatch.setattr(serial_line, "_FIRST_WAIT", 0.002)
    monkeypatch.setattr(serial_line, "_LONGEST_WAIT", 0.05)
    monkeypatch.setattr(serial_line, "_SETTLE_SECONDS", 0.005)
    monkeypatch.setattr(protocol_socket, "time", SimpleNamespace(sleep=lambda seconds: None))
    monkeypatch.setattr(simulated, "_LISTEN_SECONDS", 0.002)


def until(line, wanted, seconds=10.0):
    """Every event up to and including the first that is `wanted`."""
    seen = []
    for event in line.events(timeout=seconds):
        seen.append(event)
        if wanted(event):
            return seen
    raise AssertionError(f"not seen within {seconds} s; seen: {seen}")


def state(name):
    return lambda event: isinstance(event, LineState) and event.state == name


def reads(value):
    return lambda event: isinstance(event, Reading) and event.value == value


def readings(events):
    return [event.value for event in events if isinstance(event, Reading)]


@pytest.mark.parametrize("over", ["pty", "tcp"])
@pytest.mark.parametrize("name", profiles())
def test_every_profile_works_over_a_real_line(name, over):
    """Ten values of every shipped profile arrive in order, streamed or asked for."""
    profile = load_profile(name)
    values = [profile.step[profile.unit] * n for n in (1, 2, 2, 10, 100, 0, 5, 50, 7, 999)]
    with SimulatedCaliper(profile, over) as caliper, open_line(caliper.url, profile) as line:
        seen = until(line, state("open"))
        for value in values:
            assert caliper.press(value) == value
            if profile.request:
                line.request()
            seen += until(line, reads(value))
        assert readings(seen) == values
        assert not [event for event in seen if isinstance(event, BadRecord)]
        assert bytes(caliper.received) == profile.request * len(values)
    assert not line.is_open


@pytest.mark.parametrize("over", ["pty", "tcp"])
def test_a_burst_arrives_whole(over):
    """Twenty thousand records at once: none lost, none doubled, none changed."""
    values = [Decimal(n) / 100 for n in range(20_000)]
    with SimulatedCaliper(TEXT, over) as caliper, open_line(caliper.url, TEXT) as line:
        until(line, state("open"))
        sender = threading.Thread(target=lambda: caliper.say(b"".join(encode(TEXT, v) for v in values)))
        sender.start()
        seen = until(line, reads(values[-1]), 20)
        sender.join()
    assert seen == [event for event in seen if isinstance(event, Reading)]
    assert readings(seen) == values


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("over", ["pty", "tcp"])
def test_unplugged_and_plugged_in_a_hundred_times(over):
    """In one session: the half record is noted, loss and return are told, no reading is lost or doubled."""
    seen, sent, times = [], [], 100
    with SimulatedCaliper(TEXT, over) as caliper, open_line(caliper.url, TEXT) as line:
        seen += until(line, state("open"))
        for turn in range(times):
            sent += [caliper.press(Decimal(turn)), caliper.press(Decimal(turn) + Decimal("0.5"))]
            caliper.say(encode(TEXT, Decimal(999))[:6])
            while over == "pty" and line._decoder.pending != b"+0999.":
                seen += line.hear(0.01).events  # a pulled pty forgets what nobody read; TCP delivers it
            caliper.unplug()
            seen += until(line, state("waiting"))
            caliper.plug()
            seen += until(line, state("open"))
    assert readings(seen) == sent
    assert [event.raw for event in seen if isinstance(event, BadRecord)] == [b"+0999."] * times
    assert all("lost in the middle" in event.why for event in seen if isinstance(event, BadRecord))
    states = [event.state for event in seen if isinstance(event, LineState)]
    assert [each for each in states if each != "waiting"] == ["open"] + ["lost", "open"] * times


def test_the_wait_doubles_up_to_five_seconds():
    """The pause between attempts grows from half a second to five, and is told."""
    line = SerialLine("/dev/no-such-caliper", TEXT)
    said = []
    for _ in range(6):
        line._retry_at = 0.0
        (event,) = line.hear(0.01).events
        said.append(event.why.split("in ")[-1])
    assert said == ["1 s", "2 s", "4 s", "5 s", "5 s", "5 s"]


def test_a_line_that_is_not_there_yet_is_waited_for(tmp_path):
    """Events can be asked for before the instrument is plugged in."""
    link = tmp_path / "caliper"
    line = SerialLine(str(link), TEXT)
    seen = until(line, state("waiting"))
    with SimulatedCaliper(TEXT, link=link) as caliper:
        seen += until(line, state("open"))
        caliper.press("17.98")
        assert readings(until(line, reads(Decimal("17.98")))) == [Decimal("17.98")]
        line.close()


def test_a_record_under_way_at_opening_is_refused():
    """Bytes that come while the line opens may lack their beginning, so they are not read."""
    with SimulatedCaliper(TEXT) as caliper:
        stop = threading.Event()

        def stream():
            while not stop.is_set():
                caliper.say(b"25.40\r\n")
                time.sleep(0.002)

        sender = threading.Thread(target=stream)
        sender.start()
        try:
            with open_line(caliper.url, TEXT) as line:
                seen = until(line, reads(Decimal("25.40")))
        finally:
            stop.set()
            sender.join()
    assert isinstance(seen[1], BadRecord)
    assert "beginning may be missing" in seen[1].why


def test_two_programs_cannot_share_a_line():
    """The second is told that the line is busy."""
    with SimulatedCaliper(TEXT) as caliper, open_line(caliper.url, TEXT):
        with pytest.raises(LineError, match="busy") as caught, open_line(caliper.url, TEXT):
            pass
        assert isinstance(caught.value, DriverError)


def refused_port():
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


@pytest.mark.parametrize(
    ("url", "why"),
    [
        ("/dev/no-such-caliper", "no such port"),
        ("/dev", "folder"),
        ("/dev/null", "not a serial port"),
        ("socket://127.0.0.1:REFUSED", "nobody answers"),
        ("socket://127.0.0.1", "the line failed"),
        ("telepathy://caliper", "not a line that can be opened"),
    ],
)
def test_a_line_that_cannot_be_opened_says_why(url, why):
    """One clear sentence, naming the line."""
    url = url.replace("REFUSED", str(refused_port()))
    with pytest.raises(LineError, match=why) as caught, open_line(url, TEXT):
        pass
    assert url in str(caught.value)


def test_no_permission_names_the_group():
    """The commonest trouble on a fresh computer comes with its cure."""
    assert "dialout" in why_not(serial.SerialException(13, "could not open port"))


def test_a_missing_answer_and_a_missing_request():
    """Asking needs a profile that can, and a line that is there."""
    polled = load_profile("polled-line")
    with pytest.raises(LineError, match="no request"):
        SerialLine("loop://", TEXT).request()
    with pytest.raises(LineError, match="no request"):
        SerialLine("loop://", TEXT, poll_every=1)
    with pytest.raises(LineError, match="cannot ask"):
        SerialLine("loop://", polled).request()


def test_polling_asks_again_and_again():
    """With `poll_every` the line asks by itself, and sends nothing but the request."""
    polled = load_profile("polled-line")
    with SimulatedCaliper(polled) as caliper:
        for value in ("1.00", "2.00", "3.00"):
            caliper.press(value)
        with open_line(caliper.url, polled, poll_every=0.02) as line:
            seen = until(line, reads(Decimal("3.00")))
        assert readings(seen) == [Decimal(1), Decimal(2), Decimal(3)]
        assert bytes(caliper.received).replace(b"R\r", b"") == b""


def test_stopping_closes_the_line_and_says_so():
    """A set stop ends the events with a note of the half record and a closed line."""
    stop = threading.Event()
    line = SerialLine("loop://", TEXT)
    line.open()
    line._port.write(b"+00")
    events = line.events(stop)
    assert state("open")(next(events))
    while line._decoder.pending != b"+00":
        line.hear(0.01)
    stop.set()
    half, closed = events
    assert isinstance(half, BadRecord)
    assert state("closed")(closed)
    assert not line.is_open
    with pytest.raises(LineError, match="closed"):
        line.hear()


def test_listening_shows_raw_bytes_beside_their_meaning():
    """Every byte that came is shown, with what it was read as."""
    stop = threading.Event()
    raw, events = b"", []
    with SimulatedCaliper(TEXT) as caliper:
        for heard in listen(caliper.url, TEXT, stop):
            raw += heard.raw
            events += heard.events
            if not raw and state("open")(events[-1] if events else None):
                caliper.say(b"noise\r")
                caliper.press(25.4)
            if raw.endswith(b"MM\r\n"):
                stop.set()
    assert raw == b"noise\r+0025.40 MM\r\n"
    assert [type(event) for event in events] == [LineState, BadRecord, Reading]


def test_ports_are_listed():
    """The system's ports are values, sorted; a computer without any has an empty list."""
    found = ports()
    assert found == sorted(found, key=lambda port: port.device)
    assert all(isinstance(port, Port) for port in found)


class PtySerial(serial.Serial):
    """A pseudo-terminal has no modem lines; the rest of the server does not care."""

    cts = dsr = ri = cd = property(lambda self: False)

    def _update_dtr_state(self):
        pass

    def _update_rts_state(self):
        pass


class Converter:
    """A network serial converter after RFC 2217, for one client."""

    def __init__(self, device):
        self.port = PtySerial(device, timeout=0.05)
        self.server = socket.create_server(("127.0.0.1", 0))
        self.url = f"rfc2217://127.0.0.1:{self.server.getsockname()[1]}"
        self.lock, self.over = threading.Lock(), threading.Event()
        self.threads = [threading.Thread(target=self.down)]
        self.threads[0].start()

    def write(self, data):
        with self.lock:
            self.client.sendall(data)

    def down(self):
        self.client, _ = self.server.accept()
        self.manager = serial.rfc2217.PortManager(self.port, self)
        self.threads.append(threading.Thread(target=self.up))
        self.threads[1].start()
        with contextlib.suppress(OSError):
            while data := self.client.recv(1024):
                self.port.write(b"".join(self.manager.filter(data)))
        self.over.set()

    def up(self):
        with contextlib.suppress(OSError):
            while not self.over.is_set():
                if data := self.port.read(self.port.in_waiting or 1):
                    self.write(b"".join(self.manager.escape(data)))

    def close(self):
        self.over.set()
        for thread in self.threads:
            thread.join()
        for each in (self.client, self.server, self.port):
            each.close()


@pytest.mark.filterwarnings("ignore:.*setDaemon:DeprecationWarning", "ignore:.*setName:DeprecationWarning")
def test_a_network_converter_after_rfc_2217():
    """The line settings reach the far end, readings come back, and header bytes survive the escaping."""
    settings = LineSettings(4800, 8, "N", 2)  # what a pseudo-terminal can keep, and is not the usual
    profile = replace(load_profile("bcd-13-packed"), line=settings)
    with SimulatedCaliper(profile) as caliper:
        converter = Converter(caliper.url)
        try:
            with open_line(converter.url, profile) as line:
                until(line, state("open"))
                caliper.press(25.4)
                assert readings(until(line, reads(Decimal("25.40")))) == [Decimal("25.40")]
            port = converter.port
            assert LineSettings(port.baudrate, port.bytesize, port.parity, port.stopbits) == settings
        finally:
            converter.close()


def open_files():
    return len(list(Path("/proc/self/fd").iterdir()))


def test_a_device_unplugged_for_good_leaves_nothing_open(tmp_path):
    """Losing a line gives its file back to the system."""
    before = open_files()
    with SimulatedCaliper(TEXT, link=tmp_path / "caliper") as caliper:
        line = SerialLine(caliper.url, TEXT)
        line.open()
        until(line, state("open"))
        caliper.unplug()
        until(line, state("lost"))
        assert open_files() == before
        line.close()
