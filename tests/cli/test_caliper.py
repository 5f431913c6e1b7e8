"""`dryfit caliper` and the watching of readings, at the terminal and over a line of real bytes."""

import queue
import subprocess
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from drivers.frames import load_profile
from drivers.simulated import SimulatedCaliper
from qa.record import standing
from qa.store.store import open_store

SAMPLES = Path(__file__).parents[2] / "sample_logs"


def events(folder, kind):
    """The events of a kind in the small shop's store."""
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        return store.events(kind)


def pairs(*numbers):
    """Options for readings of known sizes."""
    return [word for a, b in numbers for word in ("--reference", a, "--reading", b)]


def test_a_good_check_leaves_with_0_and_says_what_it_found(dryfit, folder):
    """Offset, scale and what two sizes cannot tell; kept as text."""
    found = dryfit("caliper", "check", "CAL-1", *pairs(("0", "0.00"), ("25.00", "25.01")))
    assert found.status == 0
    assert "CAL-1 is good" in found.out
    assert "no scale error is shown" in found.out
    assert "a third would" in found.out
    kept = [dict(item.body) for item in events(folder, "check")]
    assert [(body["reference"], body["reading"]) for body in kept] == [("0", "0.00"), ("25.00", "25.01")]


def test_a_failed_check_leaves_with_1_and_the_gauge_is_told_by_status(dryfit):
    """Until it is checked again after adjustment."""
    failed = dryfit("caliper", "check", "CAL-1", "--reference", "25", "--reading", "25.08", "--json")
    assert failed.status == 1
    assert failed.json["passed"] is False
    assert failed.json["bias"]["mean"] == 0.08
    assert failed.json["bias"]["offset"] is None
    assert dryfit("caliper", "status").status == 1
    again = dryfit("caliper", "check", "CAL-1", *pairs(("25", "25.00")), "--adjusted")
    assert again.status == 0
    status = dryfit("caliper", "status", "--json")
    assert status.status == 0
    assert [item["state"] for item in status.json["instruments"]] == ["good", "never checked"]


def test_an_adjustment_without_a_check_as_found_is_warned_of(dryfit):
    """What was read before it can then not be judged again."""
    assert (
        "cannot be judged again"
        in dryfit("caliper", "check", "CAL-1", *pairs(("25", "25")), "--adjusted").out
    )
    dryfit("caliper", "check", "CAL-1", *pairs(("25", "25.08")))
    after = dryfit("caliper", "check", "CAL-1", *pairs(("25", "25")), "--adjusted")
    assert "cannot be judged again" not in after.out


def test_a_block_in_inches_is_one_too(dryfit):
    """1 in is 25.4."""
    found = dryfit("caliper", "check", "CAL-1", *pairs(("1 in", "25.41")), "--json")
    assert found.json["points"] == [{"reference": 25.4, "reading": 25.41, "error": 0.01}]


def test_one_reference_may_be_read_several_times(dryfit):
    """Five closings of the jaws."""
    words = [word for value in ("0", "0.01", "0", "0.01", "0") for word in ("--reading", value)]
    found = dryfit("caliper", "check", "CAL-1", "--reference", "0", *words, "--json")
    assert len(found.json["points"]) == 5


@pytest.mark.parametrize(
    "words",
    [
        ("CAL-9", "--reference", "25", "--reading", "25"),
        ("CAL-1", "--reference", "25"),
        ("CAL-1", "--reading", "25"),
        ("CAL-1", "--reference", "25", "--reference", "50", "--reading", "25"),
        ("CAL-1", "--reference", "25", "--reading", "25.0.1"),
        ("CAL-1", "--reference", "25 deg", "--reading", "25"),
        ("CAL-1", "--reference", "nan", "--reading", "25"),
        ("CAL-1", "--reference", "25", "--reading", "25", "--uncertainty", "nan"),
    ],
    ids=["unknown", "no reading", "no reference", "not as many", "no number", "degrees", "nan", "nan of it"],
)
def test_what_is_no_check_is_refused(refused, folder, words):
    """With one line, and nothing kept."""
    assert refused("caliper", "check", *words)
    assert events(folder, "check") == []


def test_a_check_can_be_guided(dryfit):
    """Jaws closed, then the blocks that are named; an empty line ends it."""
    found = dryfit("caliper", "check", "CAL-1", typed="0.00\n25\n25.01\n50\n50.00\n\n")
    assert found.status == 0, found.err
    assert "Wipe the jaws" in found.out
    assert found.out.count("good\n") >= 3


def test_a_guided_check_of_nothing_is_refused(dryfit):
    """The input ended before anything was read."""
    found = dryfit("caliper", "check", "CAL-1", typed="")
    assert found.status == 2
    assert "Traceback" not in found.err


@pytest.mark.parametrize("name", ["spruce-plate", "cherry-block", "cherry-offcuts"])
def test_the_shipped_studies_can_be_read(dryfit, name):
    """In plain sentences, and as JSON."""
    path = SAMPLES / "studies" / f"{name}.csv"
    assert "one reading can prove a tolerance of" in dryfit("caliper", "study", path).out
    assert dryfit("caliper", "study", path, "--json").json["repeats"]


def test_a_tolerance_that_cannot_be_judged_leaves_with_1(dryfit):
    """±0.10 on spruce; ±0.25 on cherry is usable."""
    assert dryfit("caliper", "study", SAMPLES / "studies/spruce-plate.csv", "--tolerance", "0.1").status == 1
    assert dryfit("caliper", "study", SAMPLES / "studies/cherry-block.csv", "--tolerance", "0.25").status == 0


def test_bare_numbers_are_in_the_unit_of_the_shop(dryfit, folder):
    """As at the bench: a display in inches is 0.002 in off, not 0.002 mm."""
    path = folder / "shop.toml"
    path.write_text(path.read_text().replace('unit = "mm"', 'unit = "in"', 1))
    found = dryfit("caliper", "check", "CAL-1", *pairs(("0", "0"), ("1", "1.002")), "--json")
    assert found.status == 1
    assert found.json["points"][1] == {"reference": 25.4, "reading": 25.4508, "error": 0.0508}
    asked = dryfit("caliper", "check", "CAL-1", "--json", typed="0.002\n1\n1.002\n\n")
    assert "What does it show at 1, in?" in asked.err
    assert [point["error"] for point in asked.json["points"]] == [0.0508, 0.0508]


def test_a_kept_study_feeds_the_next_status(dryfit, folder):
    """Its repeatability and degrees of freedom, in place of shop.toml's."""
    path = SAMPLES / "studies" / "cherry-block.csv"
    assert dryfit("caliper", "study", path, "--keep", "CAL-1", "--json").json["kept"] == "CAL-1"
    first = dryfit("caliper", "status", "--json").json["instruments"][0]
    assert first["repeatability"] == pytest.approx(0.015239, abs=1e-6)
    assert first["repeatability_dof"] == 9
    assert events(folder, "study")[0].instrument == "CAL-1"


def test_a_study_on_a_wood_judges_parts_of_that_wood(dryfit, folder, tmp_path):
    """The tail block of spanish cedar by its own; the status says which is whose."""
    path = tmp_path / "study.csv"
    path.write_text(
        "part,appraiser,trial,value,species\na,K,1,2.50,Spanish-cedar\na,K,2,2.54,Spanish-cedar\n"
    )
    told = dryfit("caliper", "study", path, "--keep", "CAL-1").out
    assert "K repeats to 0.06 mm on spanish cedar" in told
    assert "Kept for CAL-1 on spanish cedar: later verdicts on that wood" in told
    assert events(folder, "study")[0].body["species"] == "spanish cedar"
    assert "CAL-1 repeats to 0.06 mm on spanish cedar" in dryfit("caliper", "status").out
    (kept,) = dryfit("caliper", "status", "--json").json["instruments"][0]["studies"]
    assert (kept["species"], kept["dof"], kept["provable_tolerance"]) == ("spanish cedar", 1.0, 0.29)


def test_a_study_can_be_guided_by_stations(dryfit, folder, tmp_path):
    """A slip is asked again, each reading put down at once; whole rounds count; the plan names the wood."""
    path = tmp_path / "study.csv"
    words = ("caliper", "study", path, "--instrument", "CAL-1", "--part", "tail-block", "--keep", "CAL-1")
    typed = "18.00\n18.01\ntwo\n18,02\n18.03\n18.02\n18.01\n18.00\n18.03\n18.5\n\n"
    found = dryfit(*words, "--json", typed=typed)
    assert found.status == 0, found.err
    told = found.json
    assert (told["repeats"][0]["n"], told["repeats"][0]["dof"], told["species"]) == (8, 4, "spanish cedar")
    assert "bottom-left, CAL-1 (1 of 12)" in found.err
    assert len(path.read_text().splitlines()) == 10
    assert "is there already" in dryfit(*words, typed=typed).err
    assert len(events(folder, "study")) == 1


def test_a_light_and_a_firm_thumb_are_asked_for_in_turn(dryfit):
    """At every place before the next."""
    words = ("caliper", "study", "--instrument", "CAL-1", "--compliance", "--trials", "3")
    found = dryfit(*words, typed="2.90\n2.86\n2.92\n2.89\n2.88\n2.84\n")
    assert "the same place, firm (2 of 6)" in found.out
    assert "reads 0.037 mm smaller than a light one" in found.out


@pytest.mark.parametrize("tolerance", ["0", "-1", "nan", "inf"])
def test_a_tolerance_that_is_none_is_refused(refused, tolerance):
    """In one line."""
    path = SAMPLES / "studies" / "cherry-block.csv"
    assert "--tolerance" in refused("caliper", "study", path, "--tolerance", tolerance)


def test_the_demo_shop_is_told_what_a_failed_caliper_means(dryfit, tmp_path):
    """Its failure at OM-30 marks verdicts still; one found today doubts what came after November."""
    demo = tmp_path / "demo"
    assert dryfit("demo", demo, "--no-serve").status == 0
    words = ("--shop", demo, "caliper", "check", "CAL-2", *pairs(("0", "0.06"), ("25", "25.06")), "--json")
    found = dryfit(*words)
    assert found.status == 1
    assert found.json["rejudged"]["since"][:10] == "2025-11-27"
    history = dryfit("--shop", demo, "caliper", "status", "CAL-2", "--json")
    checks = history.json["checks"]
    (failed,) = (item for item in checks if not item["passed"] and item["rejudged"]["builds"])
    assert failed["rejudged"]["builds"] == ["OM-26", "OM-28", "OM-30"]
    worst = [item for item in failed["rejudged"]["changed"] if item["after"] == "does not conform"]
    assert [(item["build"], item["value"], item["without_error"]) for item in worst] == [
        ("OM-26", 2.79, 2.73), ("OM-30", 2.79, 2.73),
    ]  # fmt: skip
    on_paper = dryfit("--shop", demo, "caliper", "status", "CAL-2").out
    assert "readings in OM-26, OM-28, OM-30 were taken with it since its good check of 2025-03-27" in on_paper
    told = dryfit("--shop", demo, "check", "OM-30", "top", "--json")
    (part,) = told.json["builds"][0]["parts"]
    lower = next(item for item in part["characteristics"] if item["station"] == "centre-lower")
    assert (lower["value"], lower["without_error"]) == (2.79, 2.73)
    assert "CAL-2 read 0.06 mm too high at its check of 2025-08-05" in lower["in_doubt"]
    said = dryfit("--shop", demo, "check", "OM-30", "top").out
    assert "in doubt, 2.73 mm without the instrument's error" in " ".join(said.split())
    assert "in doubt: CAL-2 read 0.06 mm too high at its check of 2025-08-05; the readings stay" in said


def add_instrument(folder, text):
    """One more instrument in shop.toml."""
    path = folder / "shop.toml"
    path.write_text(path.read_text() + text)


def test_air_is_kept_with_the_correction_of_its_meter(dryfit, folder):
    """44 shown is 43."""
    add_instrument(
        folder, '\n[instruments.HYGRO-1]\nquantity = "percent"\ncorrection = -1\nrange = [10, 95]\n'
    )
    found = dryfit("caliper", "climate", "--rh", "44", "--temp", "20", "--instrument", "HYGRO-1", "--json")
    assert found.json == {
        "instrument": "HYGRO-1", "rh_read": 44.0, "rh_percent": 43.0, "temp_c": 20.0,
    }  # fmt: skip
    assert "RH 43 % (shown 44 %)" in dryfit("caliper", "climate", "--rh", "44", "--instrument", "HYGRO-1").out


@pytest.mark.parametrize(
    "words",
    [(), ("--rh", "130"), ("--rh", "44", "--instrument", "CAL-1"), ("--rh", "5", "--instrument", "HYGRO-1")],
    ids=["nothing", "above 100", "a caliper", "beyond its range"],
)
def test_air_that_cannot_be_is_refused(refused, folder, words):
    """And not kept."""
    add_instrument(
        folder, '\n[instruments.HYGRO-1]\nquantity = "percent"\ncorrection = -1\nrange = [10, 95]\n'
    )
    refused("caliper", "climate", *words)
    assert events(folder, "climate") == []


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("range = [150, 0]", "least and the greatest"),
        ("range = 150", "least"),
        ("correction = 1", "set a caliper to zero"),
    ],
)
def test_a_range_or_correction_that_makes_no_sense_is_refused(refused, folder, line, said):
    """With the place in shop.toml."""
    add_instrument(folder, f"{line}\n")
    assert said in refused("caliper", "status")


@pytest.mark.parametrize(
    "words",
    [
        ("status", "--size", "nan"),
        ("status", "CAL-9"),
        ("listen", "CAL-1"),
        ("listen", "CAL-1", "--write"),
        ("listen", "CAL-1", "--find"),
        ("listen", "NEW", "--find"),
        ("listen", "CAL-1", "--seconds", "nan"),
        ("study", "nowhere.csv"),
        ("study",),
        ("study", "--instrument", "CAL-1", "--part", "nothing"),
    ],
    ids=" ".join,
)
def test_bad_use_is_refused(refused, words):
    """With one clear line."""
    assert refused("caliper", *words)


def test_ports_are_listed(dryfit):
    """Or said to be none."""
    assert dryfit("caliper", "ports").status == 0
    assert isinstance(dryfit("caliper", "ports", "--json").json["ports"], list)


@contextmanager
def on_a_line(folder, profile="text-line", quantity="length", **options):
    """An instrument LINE-1 of the shop on a pseudo-terminal."""
    with SimulatedCaliper(load_profile(profile), **options) as made:
        add_instrument(
            folder,
            f'\n[instruments.LINE-1]\nprofile = "{profile}"\nquantity = "{quantity}"\nurl = "{made.url}"\n'
            "resolution = 0.01\n",
        )
        yield made


class Talk:
    """A running command: waits for words it says, and types to it."""

    def __init__(self, command_line, *words):
        program, environment = command_line
        self.process = subprocess.Popen(
            [*program, *map(str, words)], env=environment | {"PYTHONUNBUFFERED": "1"}, text=True, bufsize=1,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.said = ""
        self.lines = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        for line in self.process.stdout:
            self.lines.put(line)

    def wait(self, words, seconds=20):
        """Read on until it has said these words."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            try:
                line = self.lines.get(timeout=0.1)
            except queue.Empty:
                continue
            self.said += line
            if words in line:
                return line
        raise AssertionError(f"never said {words!r}; said:\n{self.said}")

    def type(self, text):
        self.process.stdin.write(f"{text}\n")
        self.process.stdin.flush()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.stdin.close()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()


def test_a_doubled_press_is_asked_about_and_one_key_accepts_it(command_line, folder, stored):
    """The second of two equal records at once is kept, held, and counts only when accepted."""
    with (
        on_a_line(folder) as caliper,
        Talk(command_line, "measure", "B-1", "tail-block", "--instrument", "LINE-1") as talk,
    ):
        talk.wait("-> thickness bottom-left")
        caliper.press("18.02")
        talk.wait("-> thickness bottom-right")
        caliper.press("18.02")
        assert "pressed twice" in talk.wait("bottom-right: ")
        assert [row.held for row in stored()] == [False, True]
        talk.type("a")
        talk.wait("-> thickness top-left")
        talk.type("q")
    assert [row.station for row in standing(stored())] == ["bottom-left", "bottom-right"]


def test_a_doubted_reading_left_unanswered_stays_in_sight(dryfit):
    """At the end of the session and in every check, until its place is read or it is accepted."""
    words = ("measure", "B-1", "tail-block", "--instrument", "CAL-1")
    assert "held: thickness bottom-left: 1.80 mm" in dryfit(*words, typed="1.8\n").out
    assert "held: thickness bottom-left: 1.80 mm" in dryfit("check", "B-1").out
    (held,) = dryfit("check", "B-1", "tail-block", "--json").json["builds"][0]["parts"][0]["held"]
    assert (held["station"], held["value"]) == ("bottom-left", 1.8)
    assert "held:" not in dryfit(*words, typed="18.0\n").out
    assert dryfit("check", "B-1", "tail-block", "--json").json["builds"][0]["parts"][0]["held"] == []


def test_measuring_by_a_failed_caliper_is_warned_of(dryfit):
    """Before the first reading."""
    dryfit("caliper", "check", "CAL-1", *pairs(("25", "25.08")))
    words = ("measure", "B-1", "tail-block", "--instrument", "CAL-1")
    assert "CAL-1 failed its check" in dryfit(*words, typed="").out
    dryfit("caliper", "check", "CAL-1", *pairs(("25", "25")), "--adjusted")
    assert "failed" not in dryfit(*words, typed="").out


def test_the_unit_button_in_the_middle_of_a_session(command_line, folder, stored):
    """Named inches are read as inches; a bare number in inches is held."""
    with (
        on_a_line(folder) as caliper,
        Talk(command_line, "measure", "B-1", "tail-block", "--instrument", "LINE-1") as talk,
    ):
        talk.wait("-> thickness bottom-left")
        caliper.press("18.02")
        talk.wait("-> thickness bottom-right")
        caliper.switch("in")
        caliper.press("18.034")
        talk.wait("-> thickness top-left")
        caliper.say(b"+0.7100\r\n")
        assert "inches" in talk.wait("top-left: ")
        talk.type("q")
    rows = stored()
    assert [row.held for row in rows] == [False, False, True]
    assert rows[1].value == pytest.approx(18.034)


def test_the_plug_pulled_in_the_middle_of_a_session(command_line, folder, stored):
    """It is said, and the session goes on where it was when the plug is back."""
    with (
        on_a_line(folder) as caliper,
        Talk(command_line, "measure", "B-1", "tail-block", "--instrument", "LINE-1") as talk,
    ):
        talk.wait("-> thickness bottom-left")
        caliper.press("18.02")
        talk.wait("-> thickness bottom-right")
        caliper.unplug()
        talk.wait("trying again")
        caliper.plug()
        talk.wait("is open")
        caliper.press("18.05")
        talk.wait("-> thickness top-left")
        talk.type("q")
    assert [(row.station, row.value) for row in stored()] == [("bottom-left", 18.02), ("bottom-right", 18.05)]


@pytest.mark.parametrize("profile", ["binary-24", "text-columns"])
def test_the_profile_is_found_within_seconds_of_presses(command_line, folder, profile):
    """And written into shop.toml; nothing is sent to the instrument."""
    with SimulatedCaliper(load_profile(profile)) as caliper:
        words = ("caliper", "listen", "NEW-1", "--find", "--write", "--url", caliper.url, "--seconds", "15")
        with Talk(command_line, *words) as talk:
            talk.wait("press its button")
            time.sleep(0.5)
            begun = time.monotonic()
            for size in ("25.40", "3.17", "18.02"):
                caliper.press(size)
            talk.wait(f"surely {profile}")
            assert time.monotonic() - begun < 5
            talk.wait("written into shop.toml")
        assert bytes(caliper.received) == b""
    assert f'profile = "{profile}"' in (folder / "shop.toml").read_text()


def test_only_the_request_is_ever_sent(command_line, folder):
    """By listening, by finding, by a check: nothing that zeroes, presets or changes the unit."""
    with on_a_line(folder, "polled-line") as caliper:
        for words in (
            ("listen", "LINE-1", "--ask", "--seconds", "0.6"),
            ("listen", "LINE-1", "--find", "--ask", "--seconds", "0.6"),
        ):
            with Talk(command_line, "caliper", *words) as talk:
                talk.process.wait(20)
        caliper.press("0.00")
        with Talk(command_line, "caliper", "check", "LINE-1") as talk:
            talk.wait("Wipe the jaws")
            time.sleep(0.3)
            talk.type("")
            time.sleep(0.3)
            talk.type("")
            talk.process.wait(20)
        received = bytes(caliper.received)
    assert received.replace(b"R\r", b"") == b""
    assert received.count(b"R\r") >= 3


def test_a_streamed_instrument_is_sent_nothing(command_line, folder):
    """Listening, finding and a guided check only hear."""
    with on_a_line(folder) as caliper:
        with Talk(command_line, "caliper", "check", "LINE-1") as talk:
            talk.wait("closed jaws: press")
            caliper.press("0.00")
            talk.wait("0.00 mm")
            talk.type("25")
            talk.wait("25: press")
            caliper.press("25.01")
            talk.wait("25.01 mm")
            talk.type("")
            talk.wait("LINE-1 is good")
        assert bytes(caliper.received) == b""
    assert [item.body["reading"] for item in events(folder, "check")] == ["0.00", "25.01"]


def test_a_meter_on_a_line_gives_the_air(command_line, folder):
    """One reading of it, with its correction."""
    with on_a_line(folder, "percent-line", "percent") as meter:
        add_instrument(folder, "correction = -1\n")
        with Talk(command_line, "caliper", "climate", "--instrument", "LINE-1", "--temp", "20") as talk:
            talk.wait("press its button")
            meter.press("44.0")
            talk.wait("kept: RH 43 % (shown 44 %), 20 °C")
    assert events(folder, "climate")[0].body["rh_percent"] == 43


def test_help_of_every_command_gives_an_example(dryfit):
    """A reader learns by one."""
    for name in ("check", "study", "status", "listen", "ports", "climate"):
        assert "Example: dryfit caliper" in dryfit("caliper", name, "--help").out


def test_help_loads_nothing_heavy(command_line):
    """Neither pandas nor scipy nor sqlalchemy."""
    heavy = ("pandas", "scipy", "sqlalchemy")
    code = f"""
import sys
from qa.cli import run
run(["caliper", "check", "--help"])
print([name for name in {heavy} if name in sys.modules])
"""
    python = command_line[0][0]
    found = subprocess.run([python, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert found.stdout.strip().endswith("[]")
