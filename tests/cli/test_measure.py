"""`dryfit measure`: typed, from an instrument's line, by keys at a terminal, and stopped at any moment."""

import fcntl
import os
import pty
import random
import re
import select
import signal
import subprocess
import termios
import time
from contextlib import suppress

import pytest

from drivers.frames import load_profile
from drivers.simulated import SimulatedCaliper
from qa.judge import latest_by_station
from qa.record import standing

PATIENCE = 20.0
PART = ("measure", "PG-01", "tail-block")


def values(rows):
    """What counts at each station of the thickness, in millimetres."""
    latest = latest_by_station(standing(rows))
    return {station: row.value for (name, station), row in latest.items() if name == "thickness"}


def test_readings_from_a_pipe(program, stored):
    """Every line a reading, in whatever form it is written; exit 1 as the part is not wholly measured."""
    found = program(*PART, typed="18.01\n18,02\n 0.7087 in \n45/64\n")
    assert (found.returncode, found.stderr) == (1, "")
    assert [row.millionths for row in stored()] == [18_010_000, 18_020_000, 18_000_980, 17_859_375]
    assert [row.as_entered for row in stored()] == ["18.01", "18,02", "0.7087 in", "45/64"]
    asked = re.findall(r"^-> (\w+ ?[\w-]*)", found.stdout, re.MULTILINE)
    assert asked == [
        "thickness bottom-left", "thickness bottom-right", "thickness top-left", "thickness top-right",
        "squareness",
    ]  # fmt: skip
    assert "taper" in found.stdout
    assert found.stdout.rstrip().splitlines()[-1].startswith("tail-block is not fit")


def test_a_whole_part_that_is_fit(dryfit):
    """Exit 0, and the last line says so."""
    found = dryfit(*PART, typed="18.00\n18.00\n18.00\n18.00\n0.02\n")
    assert found.status == 0, found.out
    assert "tail-block is fit" in found.out


def test_undo_skip_and_read_again(dryfit, stored):
    """A key's letter, with the reason behind it where there is one."""
    typed = "18.01\n18.02\nu\n18.03\ns knot in the way\n18.30\nr\n18.05\n"
    found = dryfit(*PART, typed=typed)
    assert values(stored()) == {"bottom-left": 18.01, "bottom-right": 18.03, "top-right": 18.05}
    assert "skipped thickness top-left: knot in the way" in found.out
    assert "undone: thickness bottom-right" in found.out
    assert "the next reading corrects thickness top-right" in found.out
    assert len(stored()) == 6


def test_a_doubted_reading(dryfit, stored):
    """Kept out until it is accepted, or read again; undo drops the doubted one and no other."""
    found = dryfit(*PART, typed="457.2\na\n180\n18.02\n1.8\nu\nr\n18.03\n0.00\n")
    assert "? thickness top-left: 0.00 mm is zero: were the jaws closed, or zero pressed?" in found.out
    assert "read the place again, or accept it: key a" in found.out
    assert values(stored()) == {"bottom-left": 457.2, "bottom-right": 18.03}
    assert "25.4 times its target" in found.out
    assert "the doubted reading stays out" not in found.out


def test_a_doubted_reading_is_answered_after_a_restart(program, dryfit, stored):
    """Which reading waits for an answer is in the store, not in the program."""
    program(*PART, typed="457.2\n")
    dryfit(*PART, typed="a\n18.01\n")
    assert values(stored()) == {"bottom-left": 457.2, "bottom-right": 18.01}


def test_a_doubted_reading_of_before_a_pass_of_planing_is_not_asked_about(dryfit):
    """It cannot be accepted any more, and tells nothing of the part."""
    assert "held:" in dryfit(*PART, typed="1.801\n").out
    assert "held:" not in dryfit(*PART, typed="p\n").out


def test_what_the_instrument_cannot_have_read_is_typed_by_a_person(dryfit, stored):
    """Per cent while a caliper is chosen: no instrument is named, and that is said and kept."""
    found = dryfit("measure", "PG-01", "side", "--instrument", "CAL-1", typed="1.9\n8.2\n")
    told = "typed, no instrument named: CAL-1 reads mm, but moisture is read in %"
    assert told in found.out
    assert [(row.instrument, row.note) for row in stored()] == [("CAL-1", ""), ("", told)]
    assert "moisture 8.2 %, +0.2 % from target, conforms" in found.out


@pytest.mark.parametrize(
    "text", ["xx", "1/0", "18 deg", "1,234.5", "", "nan", "99999999 mm", "½ft", "é", "+"]
)
def test_what_is_no_reading_is_said_and_the_place_is_asked_for_again(dryfit, stored, text):
    """Nothing is stored of it; the next good line is the reading of that place."""
    found = dryfit(*PART, typed=f"{text}\n18.01\n")
    assert "Traceback" not in found.err
    assert values(stored()) == {"bottom-left": 18.01}
    assert ("not a reading" in found.out) == bool(text)


def test_bytes_that_are_no_text(command_line, stored):
    """A wedge of another character set: the line is no reading, the next one is."""
    program, environment = command_line
    found = subprocess.run(
        [*program, *PART],
        env=environment,
        input=b"\xfc 18\n18.01\n",
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert (found.returncode, found.stderr) == (1, b"")
    assert values(stored()) == {"bottom-left": 18.01}


def test_it_goes_on_where_it_was(dryfit, stored):
    """The same command again, as often as one likes."""
    for value in ("18.01", "18.02", "18.03", "18.04", "0.05"):
        found = dryfit(*PART, typed=f"{value}\nq\n")
    assert values(stored()) == {
        "bottom-left": 18.01, "bottom-right": 18.02, "top-left": 18.03, "top-right": 18.04,
    }  # fmt: skip
    assert "going on after 4 rows already kept" in found.out


def test_who_what_and_where_are_kept(dryfit, stored):
    """Bench, machine and instrument with each reading."""
    dryfit(*PART, "--instrument", "CAL-2", "--bench", "North", "--machine", "drum sander", typed="18.01\n")
    (row,) = stored()
    assert (row.instrument, row.bench, row.machine) == ("CAL-2", "North", "drum sander")


@pytest.mark.parametrize("url", ["/dev/no-such-line", "socket://127.0.0.1:1"])
def test_a_line_that_is_not_there(dryfit, folder, stored, url):
    """A device that does not exist, or nobody listening: it says so, and the display's readings are typed."""
    _with_line(folder, url)
    found = dryfit(*PART, "--instrument", "CAL-1", typed="18.00\n18.01\n")
    assert found.status == 1
    assert url in found.out
    assert "type its readings meanwhile" in found.out
    assert [(row.value, row.instrument) for row in stored()] == [(18.0, "CAL-1"), (18.01, "CAL-1")]


def test_a_line_of_no_known_kind(refused, folder):
    """A slip in shop.toml is refused in one line."""
    _with_line(folder, "nonsense://x")
    assert "nonsense" in refused(*PART, "--instrument", "CAL-1")


def _with_line(folder, url):
    path = folder / "shop.toml"
    text = re.sub(r"url = .*\n", "", path.read_text())
    path.write_text(text.replace("[instruments.CAL-1]\n", f'[instruments.CAL-1]\nurl = "{url}"\n'))


@pytest.fixture
def caliper(folder):
    """A make-believe caliper on a serial line beside the small shop, which shop.toml names."""
    _with_line(folder, "line")
    with SimulatedCaliper(load_profile("text-line"), link=folder / "line", seed=3) as made:
        yield made


class Session:
    """The command as a running program whose output is watched."""

    def __init__(self, words, environment, stdin=subprocess.DEVNULL):
        self.said = ""
        reader, writer = os.pipe()
        self.reader = reader
        self.process = subprocess.Popen(
            words, env=environment, stdin=stdin, stdout=writer, stderr=writer, start_new_session=True
        )
        os.close(writer)

    def until(self, words, count=1):
        """Wait until the words have been said so many times in all."""
        end = time.monotonic() + PATIENCE
        while self.said.count(words) < count:
            assert time.monotonic() < end, f"never said {words!r} {count} times:\n{self.said}"
            self.hear(0.2)

    def hear(self, seconds):
        """Take in what is said within so many seconds; whether more may come."""
        ready, _, _ = select.select([self.reader], [], [], seconds)
        more = b"?"
        if ready:
            try:
                more = os.read(self.reader, 65536)
            except OSError:
                more = b""
            self.said += more.decode(errors="replace")
        return more != b""

    def end(self):
        """Wait for it to leave; its exit status."""
        status = self.process.wait(PATIENCE)
        while self.hear(0):
            pass
        return status

    def kill(self):
        """Stop it as a power cut would, and take in what it had said by then."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        while self.hear(0.5):
            pass

    def close(self):
        if self.process.poll() is None:
            self.kill()
        os.close(self.reader)


@pytest.fixture
def session(command_line):
    """Starts `dryfit measure` with the caliper, nobody at the keyboard."""
    program, environment = command_line
    made = []

    def start(*more):
        made.append(Session([*program, *PART, "--instrument", "CAL-1", *more], environment))
        return made[-1]

    yield start
    for item in made:
        item.close()


def test_a_caliper_needs_no_key(session, caliper, stored):
    """Press its button at each station: the pass ends by itself, with a verdict."""
    running = session()
    for number, value in enumerate(("18.01", "18.02", "18.03", "18.04", "0.05"), 1):
        running.until("-> ", number)
        caliper.press(value)
    assert running.end() in (0, 1)
    assert values(stored()) == {
        "bottom-left": 18.01, "bottom-right": 18.02, "top-left": 18.03, "top-right": 18.04,
    }  # fmt: skip
    assert {row.instrument for row in stored()} == {"CAL-1"}
    assert "tail-block is" in running.said


def test_an_instrument_that_only_answers_is_asked_by_enter(command_line, folder, stored):
    """An empty line asks for one reading, and its hint says so."""
    _with_line(folder, "line")
    shop = folder / "shop.toml"
    shop.write_text(shop.read_text().replace('url = "line"', 'url = "line"\nprofile = "polled-line"'))
    program, environment = command_line
    with SimulatedCaliper(load_profile("polled-line"), link=folder / "line") as polled:
        words = [*program, *PART, "--instrument", "CAL-1"]
        asked = Session(words, environment, stdin=subprocess.PIPE)
        try:
            asked.until("is open")
            assert "sends only when asked: press Enter" in asked.said
            polled.press("18.01")
            asked.process.stdin.write(b"\n")
            asked.process.stdin.flush()
            asked.until("bottom-left 18.01 mm")
        finally:
            asked.process.stdin.close()
            asked.close()
    assert values(stored()) == {"bottom-left": 18.01}


def test_noise_on_the_line_is_shown_and_the_readings_go_on(session, caliper, stored):
    """A broken record is never a reading."""
    running = session()
    running.until("-> ")
    caliper.say(b"\xff\x00garbage\r\n1.2.3 mm\r\n")
    running.until("not a reading")
    caliper.press("18.01")
    running.until("-> ", 2)
    running.kill()
    assert values(stored()) == {"bottom-left": 18.01}


def test_a_caliper_unplugged_and_plugged_in_again(session, caliper, stored):
    """The program says so, waits, and goes on."""
    running = session()
    running.until("-> ")
    caliper.press("18.01")
    running.until("-> ", 2)
    caliper.unplug()
    time.sleep(0.3)
    caliper.plug()
    end = time.monotonic() + PATIENCE
    while running.said.count("-> ") < 3:
        assert time.monotonic() < end, running.said
        with suppress(ValueError):
            if "18.02" not in running.said:
                caliper.press("18.02")
        running.hear(1.0)
    running.kill()
    assert values(stored())["bottom-left"] == 18.01
    assert values(stored())["bottom-right"] == 18.02


def test_a_burst_is_stored_in_order_none_lost_none_doubled(session, caliper, stored):
    """Two hundred presses as fast as the line takes them."""
    running = session()
    running.until("-> ")
    sent = [f"{17.5 + n / 200:.2f}" for n in range(200)]
    exact = []
    for value in sent:
        exact.append(round(float(caliper.press(value)) * 1e6))
        running.hear(0)
    end = time.monotonic() + PATIENCE
    while len(stored()) < len(sent) and time.monotonic() < end:
        running.hear(0.1)
    running.kill()
    assert [row.millionths for row in stored()] == exact


def test_killed_at_any_moment_nothing_told_is_lost_or_doubled(session, caliper, stored):
    """The same command goes on where it was; each value told back is in the store once."""
    chance = random.Random(5)
    told, pressed = set(), []
    for _ in range(6):
        running = session()
        running.until("-> ")
        for number in range(2, chance.randrange(2, 5)):
            pressed.append(f"{18 + len(pressed) / 100:.2f}")
            caliper.press(pressed[-1])
            running.until("-> ", number)
        pressed.append(f"{18 + len(pressed) / 100:.2f}")
        caliper.press(pressed[-1])
        time.sleep(chance.choice([0.0, 0.003, 0.01, 0.02, 0.05]))
        running.kill()
        told |= set(re.findall(r"^   . \w+ ?[\w-]* (\d+\.\d\d) mm", running.said, re.MULTILINE))
    kept = [f"{row.value:.2f}" for row in stored()]
    assert len(kept) == len(set(kept))
    assert {value for value in told if value in pressed} <= set(kept)
    assert set(kept) <= set(pressed)
    assert kept == sorted(kept)


@pytest.fixture
def terminal(command_line):
    """Starts `dryfit measure` on a terminal of its own; what is typed goes to `keys`."""
    program, environment = command_line
    made = []

    def start(*more):
        keys, its_end = pty.openpty()
        running = Session.__new__(Session)
        running.said = ""
        running.reader = keys
        running.process = subprocess.Popen(
            [*program, *PART, *more], env=environment | {"TERM": "xterm"}, stdin=its_end, stdout=its_end,
            stderr=its_end, start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )  # fmt: skip
        os.close(its_end)
        made.append(running)
        return running, lambda text: os.write(keys, text.encode())

    yield start
    for item in made:
        item.close()


def test_keys_at_a_terminal(terminal, stored):
    """A key counts as soon as it is pressed; a reading is a line; a reason is asked for."""
    running, type_in = terminal()
    running.until("-> ")
    type_in("18.0x\x7f1\r")
    running.until("-> ", 2)
    type_in("18.02\r")
    running.until("-> ", 3)
    type_in("u")
    running.until("-> ", 4)
    assert "undone: thickness bottom-right" in running.said
    type_in("s")
    running.until("reason for skipping: ")
    type_in("squeeze-out über ½ the face\r")
    running.until("-> ", 5)
    type_in("18 ½ mm\r")
    running.until("-> ", 6)
    type_in("r")
    running.until("the next reading corrects thickness top-left")
    type_in("18.03\r")
    running.until("-> ", 8)
    type_in("q")
    assert running.end() == 1
    assert "squeeze-out über ½ the face" in running.said
    assert values(stored()) == {"bottom-left": 18.01, "top-left": 18.03}


def test_an_instrument_that_types_is_watched_as_one_with_a_line(terminal, caliper, stored):
    """Known by its speed: the same value at once is asked about, and one key accepts it. A person is not.

    Neither a number nor a reading that comes meanwhile skips a place.
    """
    running, type_in = terminal("--instrument", "CAL-1")
    running.until("-> ")
    type_in("18.01\t18.01\t")
    running.until("was the button pressed twice?")
    running.until("accept it: key a")
    type_in("a")
    running.until("accepted: thickness bottom-right")
    running.until("-> ", 4)
    for letter in "18.01\r":
        type_in(letter)
        time.sleep(0.05)
    running.until("thickness top-left 18.01 mm, +0.01 mm from target, conforms")
    type_in("s")
    running.until("reason for skipping: ")
    type_in("18.02\r")
    running.until("looks like a reading")
    type_in("s")
    running.until("reason for skipping: ", 2)
    caliper.press("18.02")
    running.until("-> squareness")
    type_in("knot\r")
    running.until("thickness top-right was read meanwhile: nothing was skipped")
    type_in("q")
    assert running.end() == 1
    assert values(stored()) == {
        "bottom-left": 18.01, "bottom-right": 18.01, "top-left": 18.01, "top-right": 18.02,
    }  # fmt: skip


@pytest.mark.parametrize("leave", ["\x04", "\x03", "q"])
def test_ways_to_leave(terminal, stored, leave):
    """End of input, interrupt, and the key: each ends with what was read."""
    running, type_in = terminal()
    running.until("-> ")
    type_in("18.01\r")
    running.until("-> ", 2)
    type_in(leave)
    assert running.end() == 1
    assert "tail-block is not fit" in running.said
    assert "Traceback" not in running.said
    assert values(stored()) == {"bottom-left": 18.01}


def test_a_terminal_that_is_closed_ends_the_program(terminal, stored):
    """A window shut in mid-part leaves no program behind, and nothing read is lost."""
    running, type_in = terminal()
    running.until("-> ")
    type_in("18.01\r")
    running.until("-> ", 2)
    os.close(running.reader)
    running.reader = os.open(os.devnull, os.O_RDONLY)
    running.process.wait(PATIENCE)
    assert values(stored()) == {"bottom-left": 18.01}
