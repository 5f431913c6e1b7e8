"""Finding the profile of an instrument from what a few presses send."""

from contextlib import contextmanager
from decimal import Decimal

import pytest
import tomlkit

from drivers.frames import encode, load_profile, profiles
from drivers.profile import LineSettings
from qa.calipers.describing import write_section
from qa.calipers.finder import find
from qa.calipers.hearing import USUAL_LINES, hear_until_found, settings_matter
from qa.errors import ShopError
from qa.shop import load_shop

SHIPPED = {name: load_profile(name) for name in profiles()}
SIZES = {"length": ("25.40", "3.17", "-0.02"), "angle": ("89.80", "45.05"), "percent": ("8.5", "44.0")}
NOISE = bytes(range(128, 160))


def presses(name, times=3):
    """What an instrument of a profile sends for a few presses."""
    profile = SHIPPED[name]
    return b"".join(encode(profile, Decimal(size)) for size in SIZES[profile.quantity][:times])


def alike(quantity):
    """The shipped profiles of one quantity."""
    return {name: item for name, item in SHIPPED.items() if item.quantity == quantity}


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_every_shipped_profile_is_found_or_said_not_to_be_told_apart(name):
    """Two presses do; those that read these bytes alike are named."""
    asked = bool(SHIPPED[name].request)
    found = find(presses(name), SHIPPED, asked)
    assert found.sure
    assert found.best.profile == name or name in {item.profile for item in found.equals}
    wanted = SIZES[SHIPPED[name].quantity]
    assert [Decimal(value) for value, _ in found.best.told] == [Decimal(size) for size in wanted]


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_noise_before_the_first_record_does_no_harm(name):
    """The end of a record that was cut by plugging in."""
    half = presses(name, 1)[4:]
    found = find(half + presses(name) * 4, SHIPPED, bool(SHIPPED[name].request))
    assert found.best is not None
    assert found.best.profile == name or name in {item.profile for item in found.equals}


def test_one_press_is_not_enough():
    """It is said to press again."""
    found = find(presses("binary-24", 1), SHIPPED)
    assert not found.sure
    assert "press the button again" in found.doubts[0]


def test_lines_without_a_unit_cannot_be_told_apart():
    """A bare number may be millimetres, degrees or per cent: said, and not sure."""
    found = find(b"25.40\r\n3.17\r\n", SHIPPED)
    assert not found.sure
    named = {found.best.profile, *(item.profile for item in found.others)}
    assert named >= {"angle-line", "percent-line", "text-line"}


def test_the_unit_of_a_bare_number_stays_a_doubt():
    """Among calipers it is a text line; whether inches were shown is asked."""
    found = find(b"1.0000\r\n0.5000\r\n", alike("length"))
    assert found.best.profile == "text-line"
    assert any("name no unit" in line for line in found.doubts)


def test_the_stricter_of_two_that_fit_is_taken():
    """Fixed columns notice a lost byte, a free line does not."""
    found = find(presses("text-columns"), SHIPPED)
    assert found.best.profile == "text-columns"
    assert "text-line" in {item.profile for item in found.equals}


def test_nothing_and_nonsense_give_no_profile():
    """With what to do."""
    assert "press the button" in find(b"", SHIPPED).doubts[0]
    found = find(b"hello\r\nERR 2\r\n", SHIPPED)
    assert found.best is None
    assert "no profile reads them" in found.doubts[0]


class MadeUpLine:
    """A port on which an instrument of one speed sends a record at every look; noise at another speed."""

    def __init__(self, name, true_line):
        self.name, self.true_line = name, true_line
        self.tried, self.asked = [], 0

    @contextmanager
    def open(self, line):
        self.tried.append(line)
        yield MadeUpEar(self, line)


class MadeUpEar:
    """The open port: one press each time, at the speed it was opened with."""

    def __init__(self, line, settings):
        self.line, self.right = line, settings == line.true_line
        self.sent = 0

    def bytes(self, timeout):
        self.sent += 1
        if self.sent > 3:
            return b""
        return presses(self.line.name)[:] if self.right else NOISE

    def ask(self):
        self.line.asked += 1


@pytest.mark.parametrize("true_line", USUAL_LINES[:3], ids=str)
def test_speeds_and_parities_are_tried_in_turn(true_line):
    """What cannot be read at one setting is tried at the next, and the setting is told."""
    port = MadeUpLine("text-columns", true_line)
    heard = hear_until_found(port.open, alike("length"), USUAL_LINES, 5.0)
    assert heard.finding.sure
    assert heard.finding.best.profile == "text-columns"
    assert heard.line == true_line
    assert heard.seconds < 5
    assert port.tried == list(USUAL_LINES[: USUAL_LINES.index(true_line) + 1])


def test_nothing_is_sent_unless_asked():
    """Not even a request."""
    port = MadeUpLine("text-line", USUAL_LINES[0])
    hear_until_found(port.open, alike("length"), USUAL_LINES[:1], 1.0)
    assert port.asked == 0
    hear_until_found(port.open, alike("length"), USUAL_LINES[:1], 1.0, ask=True)
    assert port.asked > 0


def test_a_line_of_which_nothing_can_be_read_ends_in_time():
    """With what was heard."""
    port = MadeUpLine("text-line", LineSettings(300, 8, "N", 1))
    heard = hear_until_found(port.open, alike("length"), USUAL_LINES[:2], 1.0)
    assert not heard.finding.sure
    assert heard.finding.heard > 0
    assert heard.seconds < 3


@pytest.mark.parametrize(
    ("url", "matters"),
    [
        ("/dev/ttyUSB0", True),
        ("socket://10.0.0.9:4000", False),
        ("rfc2217://10.0.0.9:4000", True),
        ("loop://", False),
    ],
)
def test_speed_means_something_on_a_real_port_only(url, matters):
    """Not on a network line, but on a remote port that is told its speed."""
    assert settings_matter(url) is matters


def test_no_profile_has_a_command_but_its_request():
    """Nothing can be sent that zeroes or presets: a profile holds no bytes to send but its request."""
    for profile in SHIPPED.values():
        sendable = [name for name in profile.__slots__ if isinstance(getattr(profile, name), bytes)]
        assert sendable == ["request"]
        assert profile.request in (b"", b"R\r")


def test_the_section_is_written_and_comments_stay(folder):
    """Into shop.toml, which is good afterwards."""
    path = folder / "shop.toml"
    path.write_text("# our shop\n" + path.read_text() + "# the end\n")
    write_section(folder, "CAL-2", "text-columns", "/dev/ttyUSB0")
    write_section(folder, "METER-1", "percent-line", "/dev/ttyUSB1", quantity="percent")
    text = path.read_text()
    assert "# our shop" in text
    assert "# the end" in text
    shop = load_shop(folder)
    assert (shop.instrument("CAL-2").profile, shop.instrument("CAL-2").url) == (
        "text-columns",
        "/dev/ttyUSB0",
    )
    assert shop.instrument("METER-1").quantity == "percent"
    assert shop.instrument("CAL-1").max_permissible_error == 0.03


def test_another_speed_is_written_as_a_profile_of_its_own(folder):
    """A copy beside shop.toml, comments kept, that loads."""
    write_section(folder, "CAL-2", "text-line", None, LineSettings(4800, 7, "E", 2))
    shop = load_shop(folder)
    assert str(load_profile(shop.profile_path(shop.instrument("CAL-2"))).line) == "4800 7E2"
    assert "#" in (folder / "CAL-2.toml").read_text()


@pytest.mark.parametrize("name", ["../x", "a b", ""])
def test_a_name_that_cannot_be_a_key_is_refused(folder, name):
    """Nor used as the name of a file."""
    before = (folder / "shop.toml").read_text()
    with pytest.raises(ShopError):
        write_section(folder, name, "text-line", None)
    assert (folder / "shop.toml").read_text() == before


def test_a_shop_without_instruments_gets_its_first(folder):
    """As a table of its own."""
    (folder / "shop.toml").write_text('name = "x"\n')
    write_section(folder, "CAL-1", "text-line", "/dev/ttyUSB0")
    assert tomlkit.parse((folder / "shop.toml").read_text())["instruments"]["CAL-1"]["profile"] == "text-line"


def worked_examples():
    """The profiles written out in the guide beside the shipped ones."""
    from importlib import resources

    text = (resources.files("drivers") / "profiles" / "README.md").read_text(encoding="utf-8")
    return [part.split("```")[0] for part in text.split("```toml\n")[1:]]


@pytest.mark.parametrize("number", range(3))
def test_the_worked_examples_of_the_guide_are_profiles(tmp_path, number):
    """Each loads, which decodes its own examples, and sends what it reads."""
    path = tmp_path / "worked.toml"
    path.write_text(worked_examples()[number], encoding="utf-8")
    profile = load_profile(path)
    assert len(profile.examples) == 3
    assert find(
        encode(profile, Decimal("12.34")) + encode(profile, Decimal("-3.50")), {"worked": profile}
    ).sure


def test_there_are_three_worked_examples():
    """As the guide says."""
    assert len(worked_examples()) == 3
