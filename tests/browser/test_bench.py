"""The Bench page in a real browser, with a make-believe caliper on a real serial line."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from drivers.frames import load_profile
from drivers.serial_line import SerialLine
from drivers.simulated import SimulatedCaliper
from qa.record import standing
from qa.shop import load_shop
from qa.store.store import open_store

OPENING_MS = 1000
"""How long after a page began to open a line of typing may lack its beginning."""

BUILD, PART = "TG-9", "tail-block"
HERE = f"bench?build={BUILD}&part={PART}&model=travel-guitar"


@pytest.fixture
def bench_folder(shops, tmp_path):
    """A full shop whose caliper has a line."""
    folder = shops.full_shop(tmp_path / "shop")
    text = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(
        text.replace("[instruments.CAL-1]", '[instruments.CAL-1]\nurl = "line"')
    )
    return folder


@pytest.fixture
def caliper(bench_folder) -> Iterator[SimulatedCaliper]:
    """A make-believe caliper on that line."""
    with SimulatedCaliper(load_profile("text-line"), link=bench_folder / "line", seed=1) as made:
        yield made


@pytest.fixture
def served(serve_shop, bench_folder, caliper):
    """The shop served by a process of its own."""
    found = serve_shop(bench_folder)
    yield found
    found.stop()


@pytest.fixture
def at_bench(page, served):
    """Opens the bench of the part and waits until the instrument reads it."""
    page.set_viewport_size({"width": 1280, "height": 800})
    open_bench(page, served)
    return page


@pytest.fixture
def demo(tmp_path) -> Iterator[str]:
    """The address of the bench that `dryfit demo` proposes, while it runs."""
    run = "from qa.cli import main; main()"
    words = [sys.executable, "-u", "-c", run, "demo", str(tmp_path / "demo"), "--port", "0"]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as running:
        yield next(line for line in running.stdout if "/bench?" in line).rpartition(" ")[2].strip()
        running.send_signal(signal.SIGINT)
        try:
            running.communicate(timeout=10)
        except subprocess.TimeoutExpired:
            running.kill()
            raise


def open_bench(page, served, address=HERE):
    page.goto(served.address + address)
    expect(page.locator("#bench-field")).to_be_visible()
    expect(page.get_by_text("CAL-1 on the line")).to_be_visible(timeout=8000)
    expect(page.locator("#bench-elsewhere")).to_be_empty()
    page.evaluate("window.shownAt = performance.now()")


def number(page):
    return page.locator("#bench-number")


def settle(page):
    """Wait until a line that is typed is not thought to lack its beginning."""
    left = page.evaluate(f"{OPENING_MS} + (window.shownAt ?? 1000) - performance.now()")
    page.wait_for_timeout(max(0, left))


def type_in(page, text):
    settle(page)
    page.keyboard.type(text, delay=50)  # as slow as a person, so that it is not taken for an instrument
    page.keyboard.press("Enter")


def rows(folder, part=PART):
    with open_store(load_shop(folder).store_url) as store:
        return store.readings(BUILD, part)


def counting(folder):
    return [(row.station, row.value) for row in standing(rows(folder))]


def test_a_part_is_measured_by_its_caliper_without_a_hand_on_the_page(at_bench, caliper, bench_folder, heard):
    """Each press shows its number and verdict and moves on; the rows name the instrument."""
    expect(at_bench.locator("#bench-next")).to_contain_text("thickness top")
    expect(at_bench.locator("#bench-face .next")).to_have_count(1)
    caliper.press(22.31)
    expect(number(at_bench)).to_have_text("22.31 mm")
    expect(at_bench.locator("#bench-reading")).to_contain_text("does not conform")
    expect(at_bench.locator("#bench-reading .mark.does-not-conform")).to_be_visible()
    expect(at_bench.locator("#bench-next")).to_contain_text("thickness bottom")
    caliper.press(22.05)
    expect(number(at_bench)).to_have_text("22.05 mm")
    expect(at_bench.locator("#bench-reading")).to_contain_text("taper +0.26 mm, does not conform")
    expect(at_bench.locator("#bench-reading")).to_contain_text("Take off")

    assert [(r.station, r.value, r.instrument) for r in rows(bench_folder)] == [
        ("top", 22.31, "CAL-1"),
        ("bottom", 22.05, "CAL-1"),
    ]
    assert heard == []


def test_the_number_is_readable_at_three_metres(at_bench, caliper, picture):
    """At 1280 pixels on a screen 531 mm wide, digits of 0.7 of the type are over 40 mm high."""
    caliper.press(22.03)
    expect(number(at_bench)).to_have_text("22.03 mm")
    size = float(number(at_bench).evaluate("node => getComputedStyle(node).fontSize")[:-2])

    picture("bench-1280")
    assert 0.7 * size * 531 / 1280 > 40
    assert number(at_bench).bounding_box()["y"] < 500


def test_a_screen_reader_hears_the_verdict_and_the_next_place(at_bench, caliper):
    """The polite region holds the sentence."""
    caliper.press(22.03)

    said = at_bench.locator("#bench-said[role=status]")
    expect(said).to_have_text(
        "thickness top 22.03 mm, +0.03 mm from target, conforms. Next: thickness bottom."
    )


def test_the_keys_are_those_of_the_command(at_bench, bench_folder):
    """u s r a p work on an empty field only; each is said."""
    said = at_bench.locator("#bench-done")
    type_in(at_bench, "22.10")
    expect(number(at_bench)).to_have_text("22.10 mm")
    at_bench.keyboard.press("r")
    expect(said).to_have_text("The next reading corrects thickness top.")
    at_bench.reload()
    expect(at_bench.locator("#bench-next")).to_contain_text("Read again thickness top")
    type_in(at_bench, "22.11")
    expect(number(at_bench)).to_have_text("22.11 mm")
    assert counting(bench_folder) == [("top", 22.11)]

    at_bench.keyboard.press("s")
    expect(at_bench.get_by_label("Why skip thickness bottom?")).to_be_focused()
    type_in(at_bench, "22.4")
    expect(at_bench.locator("#bench-why")).to_contain_text("looks like a reading")
    at_bench.locator("#bench-field").fill("")
    type_in(at_bench, "knot under the jaws")
    expect(said).to_have_text("Skipped thickness bottom: knot under the jaws.")
    at_bench.keyboard.press("u")
    expect(said).to_have_text("Undone: thickness bottom.")
    at_bench.keyboard.press("u")
    expect(number(at_bench)).to_have_text("22.10 mm")  # what was corrected counts again
    at_bench.keyboard.press("u")
    expect(at_bench.get_by_text("Nothing read yet")).to_be_visible()
    at_bench.keyboard.press("p")
    expect(said).to_contain_text("Planed")
    at_bench.keyboard.press("q")
    expect(at_bench.get_by_role("heading", name="Bench", exact=True)).to_be_visible()
    assert counting(bench_folder) == []


def test_letters_in_a_reading_are_no_keys(at_bench, bench_folder):
    """A unit typed after its number stays text."""
    type_in(at_bench, "22.02 mm")
    expect(number(at_bench)).to_have_text("22.02 mm")

    assert counting(bench_folder) == [("top", 22.02)]


def test_what_cannot_be_read_stays_in_the_field_with_the_reason(at_bench, bench_folder):
    """Beside the field, and the next try is taken."""
    type_in(at_bench, "22,1x")
    expect(at_bench.locator("#bench-why")).to_contain_text("“22,1x” was not stored")
    expect(at_bench.locator("#bench-field")).to_have_value("22,1x")
    assert at_bench.evaluate("document.documentElement.dataset.benchCue") == "unclear"
    assert rows(bench_folder) == []

    type_in(at_bench, "22,1")
    expect(number(at_bench)).to_have_text("22.10 mm")
    expect(at_bench.locator("#bench-why")).to_be_hidden()


def test_an_instrument_that_types_is_heard_wherever_the_focus_is(at_bench, bench_folder):
    """On a button, on nothing; and the same value within a moment is asked about, and accepted by a key."""
    at_bench.get_by_role("button", name="Sound").focus()
    settle(at_bench)
    at_bench.keyboard.type("22.04\n22.04\n")
    expect(at_bench.locator("#bench-reading")).to_contain_text("doubted")
    expect(at_bench.locator("#bench-reading")).to_contain_text("was the button pressed twice?")
    assert counting(bench_folder) == [("top", 22.04)]

    at_bench.keyboard.press("a")
    expect(at_bench.locator("#bench-done")).to_have_text("Accepted: thickness bottom.")
    assert counting(bench_folder) == [("top", 22.04), ("bottom", 22.04)]


def test_a_reading_doubled_on_the_line_is_held_until_accepted(at_bench, caliper, bench_folder):
    """Kept, shown as doubted with another cue, and counted after the key, or its button beside the doubt."""
    for _ in range(2):
        caliper.press(22.01)
    expect(at_bench.locator("#bench-reading .mark.doubted")).to_be_visible()
    assert at_bench.evaluate("document.documentElement.dataset.benchCue") == "unclear"
    at_bench.get_by_role("button", name="accept it as read").click()
    expect(at_bench.locator("#bench-reading")).to_contain_text("conforms")

    assert counting(bench_folder) == [("top", 22.01), ("bottom", 22.01)]


def test_a_reload_goes_on_where_it_was(at_bench, caliper):
    """The last number, the next place, and what was being typed."""
    caliper.press(22.03)
    expect(number(at_bench)).to_have_text("22.03 mm")
    settle(at_bench)
    at_bench.keyboard.type("21.9", delay=50)
    at_bench.reload()

    expect(number(at_bench)).to_have_text("22.03 mm")
    expect(at_bench.locator("#bench-next")).to_contain_text("thickness bottom")
    expect(at_bench.locator("#bench-field")).to_have_value("21.9")


def test_half_a_number_typed_into_an_opening_page_is_not_stored(at_bench, bench_folder):
    """Its beginning went to the page before; it stays in the field until it is confirmed or typed anew."""
    at_bench.reload(wait_until="commit")
    at_bench.keyboard.type("2.05\n", delay=100)
    expect(at_bench.locator("#bench-why")).to_contain_text("its beginning may be missing", timeout=10_000)
    assert rows(bench_folder) == []
    at_bench.keyboard.type("22.05\n", delay=50)
    expect(number(at_bench)).to_have_text("22.05 mm")
    assert counting(bench_folder) == [("top", 22.05)]


def test_two_tabs_on_one_part_agree(at_bench, served, caliper, context):
    """A reading and an undo show on both."""
    other = context.new_page()
    open_bench(other, served)
    caliper.press(22.07)
    for tab in (at_bench, other):
        expect(number(tab)).to_have_text("22.07 mm")
    other.keyboard.press("u")
    for tab in (at_bench, other):
        expect(tab.get_by_text("Nothing read yet")).to_be_visible()


def test_each_reading_of_the_part_is_sent_to_its_pages(page, own, shops, heard):
    """Over the socket of its own, whichever program stored it; nothing of another part."""
    with page.expect_websocket(lambda socket: "/bench/feed?" in socket.url) as opened:
        page.goto(own.address + "bench?build=TG-9&part=brace&model=travel-guitar")
    expect(page.get_by_text("places read")).to_be_visible()
    page.wait_for_timeout(500)  # until then nobody looks out
    sent = []
    opened.value.on("framereceived", lambda text: sent.append(json.loads(text)))
    shops.read(own.folder, "TG-9", "travel-guitar", "tail-block", "thickness", "top", 22.03, 400)
    with opened.value.expect_event("framereceived"):
        shops.read(own.folder, "TG-9", "travel-guitar", "brace", "width", "middle", 8.01, 401)
    assert [(told["part"], told["number"]["mm"]) for told in sent] == [("brace", ["8.01", "mm"])]
    assert heard == []


def test_another_part_that_takes_the_instrument_is_said(at_bench, served, caliper, context, bench_folder):
    """The first tab says who is read now; a button takes the instrument back."""
    other = context.new_page()
    open_bench(other, served, HERE.replace(PART, "brace"))
    expect(at_bench.locator("#bench-elsewhere")).to_contain_text("CAL-1 now reads brace of TG-9")
    caliper.press(8.02)
    expect(number(other)).to_have_text("8.02 mm")
    assert [row.value for row in rows(bench_folder, "brace")] == [8.02]

    at_bench.bring_to_front()
    at_bench.get_by_role("button", name="Read here").click()
    expect(at_bench.locator("#bench-elsewhere")).to_be_empty()
    caliper.press(22.02)
    expect(number(at_bench)).to_have_text("22.02 mm")


def test_a_killed_server_loses_and_doubles_nothing(at_bench, served, caliper, bench_folder):
    """Typed while it is away, stored once when it is back; then the line is live again."""
    caliper.press(22.03)
    expect(number(at_bench)).to_have_text("22.03 mm")
    served.stop(signal.SIGKILL)
    type_in(at_bench, "22.05")
    expect(at_bench.locator("#bench-waiting")).to_contain_text("One reading is safe in this browser")
    at_bench.keyboard.press("u")
    expect(at_bench.locator("#bench-why")).to_contain_text("the key was not taken")
    served.start()

    expect(number(at_bench)).to_have_text("22.05 mm", timeout=30_000)
    expect(at_bench.locator("#bench-waiting")).to_be_hidden()
    assert counting(bench_folder) == [("top", 22.03), ("bottom", 22.05)]
    expect(at_bench.get_by_text("CAL-1 on the line")).to_be_visible(timeout=8000)
    caliper.press(22.06)
    expect(number(at_bench)).to_have_text("22.06 mm")


def test_an_answer_that_is_lost_does_not_double_the_reading(at_bench, bench_folder):
    """The server has stored it, the browser never heard so, and sends it again."""
    lost, sent = [], []

    def lose_the_first(route):
        act = json.loads(route.request.post_data)
        if act["do"] == "type":
            sent.append(act["token"])
        if act["do"] == "type" and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    at_bench.route("**/bench/act", lose_the_first)
    type_in(at_bench, "22.08")
    expect(at_bench.locator("#bench-waiting")).to_contain_text("One reading is safe in this browser")
    expect(at_bench.locator("#bench-waiting")).to_be_hidden(timeout=5000)

    assert lost == [200]
    assert len(sent) == 2
    assert len(set(sent)) == 1
    assert at_bench.evaluate("localStorage.getItem('dryfit-bench-outbox')") == "[]"
    assert counting(bench_folder) == [("top", 22.08)]


def test_a_reading_without_a_part_is_kept_and_can_be_taken(page, served, caliper, bench_folder):
    """With its raw text; once a part is chosen it can be taken there."""
    page.goto(f"{served.address}bench")
    expect(page.get_by_role("heading", name="Bench", exact=True)).to_be_visible()
    page.wait_for_timeout(1500)
    caliper.press(22.05)
    expect(page.get_by_role("heading", name="Heard, belongs nowhere")).to_be_visible()
    expect(page.locator(".bench-heard code")).to_contain_text("22.05")
    open_bench(page, served)
    page.get_by_role("button", name="Take as thickness top").click()

    expect(number(page)).to_have_text("22.05 mm")
    expect(page.get_by_role("heading", name="Heard, belongs nowhere")).to_have_count(0)
    assert counting(bench_folder) == [("top", 22.05)]


def test_a_lost_line_is_said_and_found_again(at_bench, caliper):
    """Unplugged and plugged in, without a touch."""
    caliper.unplug()
    expect(at_bench.locator("#bench-line")).to_contain_text(re.compile("LOST|NOT ON THE LINE"), timeout=5000)
    caliper.plug()
    expect(at_bench.locator("#bench-line")).to_contain_text("CAL-1 on the line", timeout=10_000)
    caliper.press(22.0)
    expect(number(at_bench)).to_have_text("22.00 mm")


def test_a_record_that_is_not_understood_is_shown_as_it_came(at_bench, caliper, bench_folder):
    """Raw text and why; nothing is stored."""
    caliper.say(b"+ 2x.00, MM\r\n")
    expect(at_bench.locator("#bench-line")).to_contain_text("2x.00")
    assert at_bench.evaluate("document.documentElement.dataset.benchCue") == "unclear"
    assert rows(bench_folder) == []


def test_a_port_that_another_program_holds_is_said(page, bench_folder, caliper, serve_shop):
    """As `dryfit measure` would hold it; it is tried again until it is free."""
    holder = SerialLine(str(bench_folder / "line"), load_profile("text-line"))
    holder.open()
    served = serve_shop(bench_folder)
    page.goto(served.address + HERE)
    expect(page.locator("#bench-line")).to_contain_text("another program has it open", timeout=8000)
    holder.close()
    expect(page.locator("#bench-line")).to_contain_text("CAL-1 on the line", timeout=15_000)
    served.stop()


@pytest.mark.parametrize("width", [360, 390, 700])
def test_on_a_phone_nothing_hangs_over_the_edge(at_bench, caliper, width, picture):
    """One column, with the longest words a reading brings."""
    at_bench.set_viewport_size({"width": width, "height": 844})
    for value in (22.41, 21.62):
        caliper.press(value)
        expect(number(at_bench)).to_have_text(f"{value} mm")

    picture(f"bench-{width}", full_page=True)
    assert at_bench.evaluate("document.documentElement.scrollWidth") <= width
    assert number(at_bench).bounding_box()["height"] > 80


def test_passes_close_in_on_the_target(at_bench):
    """From the second pass on a run chart shows each station's way."""
    for value in ("22.20", "22.05", "22.10", "22.03"):
        type_in(at_bench, value)
        expect(number(at_bench)).to_have_text(f"{value} mm")

    expect(at_bench.get_by_role("heading", name="Thickness pass by pass")).to_be_visible()
    expect(at_bench.locator("#bench-runs .js-plotly-plot .point")).to_have_count(4)
    expect(
        at_bench.get_by_role("img", name=re.compile(r"top 22\.2, 22\.1; bottom 22\.05, 22\.03"))
    ).to_be_visible()


def test_the_sound_is_off_by_choice_and_stays_so(at_bench):
    """The choice is kept by the browser."""
    button = at_bench.get_by_role("button", name="Sound")
    expect(button).to_have_attribute("aria-pressed", "true")
    button.click()
    at_bench.reload()

    expect(at_bench.get_by_role("button", name="Sound")).to_have_attribute("aria-pressed", "false")


def test_a_code_of_a_ticket_leads_here(page, served, caliper, bench_folder):
    """The address a ticket carries opens the part, ready to be read."""
    from qa.paper.tickets import bench_link

    address = bench_link(served.address, BUILD, PART).replace(served.address, "")
    open_bench(page, served, f"{address}&model=travel-guitar")
    caliper.press(22.0)
    expect(number(page)).to_have_text("22.00 mm")


def test_the_demo_shows_a_reading_land_with_one_click(page, demo, heard):
    """`dryfit demo` prints the address of the bench; the button is there, and marked as invented."""
    page.goto(demo)
    button = page.get_by_role("button", name="Press the make-believe caliper's data button")
    expect(button).to_be_visible()
    expect(page.get_by_text("Invented: no such caliper exists")).to_be_visible()
    expect(page.get_by_text("CAL-1 on the line")).to_be_visible(timeout=8000)
    button.click()
    expect(number(page)).to_contain_text("22.")
    expect(page.locator("#bench-next")).to_contain_text("thickness top right")
    assert heard == []


def test_no_state_of_the_page_breaks_a_rule(at_bench, served, caliper, schemes, broken_rules):
    """axe-core on: nothing read, out of limits, doubted, refused; and on the choice of a build and a part."""

    def broken():
        return [(scheme, rule) for scheme in schemes() for rule in broken_rules()]

    assert broken() == []
    caliper.press(22.4)
    expect(at_bench.locator("#bench-reading")).to_contain_text("does not conform")
    assert broken() == []
    caliper.press(2.2)
    expect(at_bench.locator("#bench-reading")).to_contain_text("doubted")
    type_in(at_bench, "x1")
    expect(at_bench.locator("#bench-why")).to_be_visible()
    assert broken() == []
    for address in ("bench", f"bench?build={BUILD}&model=travel-guitar", "bench?build=TG-1"):
        at_bench.goto(served.address + address)
        expect(at_bench.locator("h1")).to_be_visible()
        assert broken() == []
