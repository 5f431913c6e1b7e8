"""What the browser is asked for at a reading: tones, vibration, a sentence; the number before all else."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import expect

from qa.shop import load_shop
from qa.store.store import open_store

HERE = "bench?build=TG-9&part=tail-block&model=travel-guitar"
LISTEN = """
window.asked = [];
window.AudioContext = class extends window.AudioContext {
  constructor() { super(); window.sound = this; }
  createOscillator() {
    const tone = super.createOscillator(), start = tone.start.bind(tone);
    tone.start = (at) => { window.asked.push(["tone", tone.frequency.value]); start(at); };
    return tone;
  }
};
Navigator.prototype.vibrate = (pattern) => window.asked.push(["shake", pattern]);
SpeechSynthesis.prototype.speak = (said) => window.asked.push(["say", said.text]);
"""


@pytest.fixture(scope="module")
def served(serve_shop, shops, tmp_path_factory):
    """Served: a full shop of this module's own."""
    found = serve_shop(shops.full_shop(tmp_path_factory.mktemp("cues") / "shop"))
    yield found
    found.stop()


@pytest.fixture(scope="module")
def bench(browser, served):
    """One bench for all tests of this module, where the sound is awake and verdicts are spoken."""
    page = browser.new_page()
    page.add_init_script(LISTEN)
    page.route_web_socket("**/bench/feed?*", lambda socket: setattr(page, "feed", socket))
    page.goto(served.address + HERE)
    expect(page.locator("#bench-field")).to_be_visible()
    page.wait_for_timeout(1000)  # until then a line of typing may lack its beginning
    page.get_by_role("button", name="Spoken verdict").click()
    for _ in range(100):
        if page.evaluate("window.sound && window.sound.state") == "running":
            break
        page.wait_for_timeout(50)
    yield page
    page.close()


def asked_for(bench, text):
    """What the browser is asked for when that is read, by sort."""
    bench.evaluate("window.asked = []")
    bench.keyboard.type(text, delay=50)
    bench.keyboard.press("Enter")
    expect(bench.locator("#bench-number")).to_have_text(f"{text} mm")
    expect(bench.locator("#bench-done")).to_be_hidden()
    bench.wait_for_timeout(100)
    found = bench.evaluate("window.asked")
    return {sort: [what for each, what in found if each == sort] for sort in ("tone", "shake", "say")}


@pytest.mark.parametrize(
    ("text", "tones", "shake", "said"),
    [
        ("21.97", [1320], [60], "thickness top 21.97 mm, minus 0.03 mm from target, conforms. "),
        ("22.40", [294, 220], [350, 120, 350], "thickness bottom 22.40 mm, +0.40 mm from target, "),
        ("2.20", [740, 620] * 2, [70, 60, 70, 60, 70, 60, 70], "thickness top: 2.20 mm "),
    ],
    ids=["in tolerance", "out of tolerance", "held"],
)
def test_a_reading_is_heard_felt_and_said(bench, text, tones, shake, said):
    """One high tone, two low ones, four quick ones; each with its own vibration and sentence."""
    asked = asked_for(bench, text)

    assert asked["tone"] == tones
    assert asked["shake"] == [shake]
    assert [words.startswith(said) for words in asked["say"]] == [True]


def test_the_number_stands_there_before_the_page_is_drawn_anew(bench, served):
    """Told of a row of this part, not of another's or an older one; what is drawn then takes its place."""
    with open_store(load_shop(served.folder).store_url) as store:
        last = store.last_sequence()
    row = {
        "build": "TG-9",
        "part": "tail-block",
        "mark": last + 1,
        "what": "thickness top",
        "when": "9:00:00",
    }
    row["number"] = {"mm": ["22.05", "mm"], "in": ["0.8681", "in"]}
    fresh, drawn = bench.locator("#bench-fresh"), bench.locator("#bench-reading")

    def tell(**what):
        bench.feed.send(json.dumps(row | what))

    tell()
    expect(fresh.locator(".bench-number")).to_have_text("22.05 mm")
    expect(drawn).to_be_hidden()
    for other in ({"part": "brace"}, {"mark": last}):
        tell(**other)
        expect(fresh).to_be_hidden()
        expect(drawn).to_be_visible()
    tell()
    asked_for(bench, "22.06")
    expect(fresh).to_be_hidden()
    expect(drawn).to_be_visible()


def test_nothing_is_asked_for_when_both_are_switched_off(bench):
    """Neither tone nor vibration nor sentence; the number is there all the same."""
    for name in ("Sound and vibration", "Spoken verdict"):
        bench.get_by_role("button", name=name).click()

    assert asked_for(bench, "22.04") == {"tone": [], "shake": [], "say": []}
