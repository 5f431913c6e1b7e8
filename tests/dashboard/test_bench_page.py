"""The Bench page and what it asks of the server, without a browser."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from dashboard.bench.asked import asked_of, bench_of
from dashboard.bench.route import Acts
from dashboard.desk import Desk
from dashboard.figures.passes import Run, passes_figure
from dashboard.pages.bench import PAGE
from drivers.reading import Reading
from qa.bench.at_bench import Chosen, chosen, keep_heard
from qa.errors import StoreError
from qa.store.store import Store

HERE = {"build": "TG-9", "part": "tail-block", "model": "travel-guitar"}
ACT = {**HERE, "by": "CAL-1", "unit": "mm"}


def text_of(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


@pytest.fixture
def acts(full_desk):
    """What the page sends its acts to."""
    return Acts(full_desk)


def rows(desk):
    return desk.store().readings("TG-9")


def test_the_address_names_the_bench(full_desk):
    """Instrument and bench as written; the shop's only instrument where none is; none where it says typed."""
    shop = full_desk.shop()
    assert asked_of(shop, HERE).instrument == "CAL-1"
    assert asked_of(shop, HERE | {"by": "typed"}).instrument == ""
    assert asked_of(shop, HERE | {"by": "CAL-7", "bench": "North"}) == Chosen(
        "CAL-7", "TG-9", "tail-block", "travel-guitar", "North"
    )
    assert bench_of("TG 7/b", "brace") == "/bench?build=TG+7%2Fb&part=brace"


def test_the_page_says_where_to_read_and_what_is_asked(full_desk):
    """The next place with target and limits, in the unit that is shown."""
    text = text_of(PAGE.content(full_desk, HERE))
    assert "thickness top" in text
    assert "Target 22.00 mm, 21.75 to 22.25 mm conforms" in text
    assert "0.8661" in text_of(PAGE.content(full_desk, HERE | {"unit": "in"}))


def test_the_page_shows_the_last_reading_of_a_part_begun_before(full_desk):
    """TG-6's brace reads 8.21: does not conform, 0.06 over its limit."""
    text = text_of(PAGE.content(full_desk, {"build": "TG-6", "part": "brace"}))
    for words in ("8.21", "does not conform", "+0.21 mm from target", "over the upper limit by 0.06 mm"):
        assert words in text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({}, "Choose what to read"),
        ({"build": "TG-6"}, "Choose the part to read"),
        ({"build": "TG-9", "model": "travel-guitar"}, "A new build of travel-guitar"),
        ({"build": "TG-9"}, "A new build. Choose its model."),
        ({"build": "TG-6", "part": "brase"}, "known: brace"),
    ],
)
def test_an_open_choice_is_offered_and_a_wrong_one_named(full_desk, query, words):
    """Build, then part; a name nobody knows is said."""
    assert words in text_of(PAGE.content(full_desk, query))


def test_a_new_build_keeps_its_address_as_its_model_is_chosen(full_desk):
    """As a ticket printed before its first reading leads there; no word of the command."""
    asked = {"build": "TG-9", "part": "brace", "by": "typed", "bench": "North"}
    text = text_of(PAGE.content(full_desk, asked))
    for model in ("travel-guitar", "lap-harp"):
        assert f'"href": "/bench?build=TG-9&part=brace&by=typed&bench=North&model={model}"' in text
    assert "--model" not in text


def test_without_a_plan_the_way_to_one_is_named(shops, tmp_path):
    """There is nothing to read by; the page has a form for a plan."""
    folder = shops.empty_shop(tmp_path / "shop")
    for plan in (folder / "plans").iterdir():
        plan.unlink()
    desk = Desk(folder)
    text = text_of(PAGE.content(desk, {"build": "TG-9"}))
    desk.close()
    assert '"children": "Begin a plan", "href": "/plans/new"' in text
    assert "dryfit new" not in text


def test_the_button_of_a_make_believe_caliper_is_only_there_with_one(full_desk, acts):
    """And it sends a value one might read at the next place."""
    assert "make-believe" not in text_of(PAGE.content(full_desk, HERE))
    assert "no make-believe caliper" in acts.do(ACT | {"do": "press", "token": "1"})["say"]
    pressed = []
    full_desk.press = pressed.append
    assert "make-believe" in text_of(PAGE.content(full_desk, HERE))
    assert acts.do(ACT | {"do": "press", "token": "2"})["kind"] == "done"
    assert 22.2 < pressed[0] < 22.5


def test_an_act_is_done_once_for_its_token(full_desk, acts):
    """An undo sent twice takes back one reading; the answer is the same."""
    for number in (1, 2):
        acts.do(ACT | {"do": "type", "text": f"22.0{number}", "token": f"t{number}"})
    first = acts.do(ACT | {"do": "u", "token": "u1"})
    assert acts.do(ACT | {"do": "u", "token": "u1"}) == first
    assert len(rows(full_desk)) == 3


def test_a_typed_token_outlives_the_server(full_desk, acts):
    """Another server over the same store knows it."""
    asked = ACT | {"do": "type", "text": "22.01", "token": "t1", "ago": "4000"}
    assert acts.do(asked)["kind"] == "stored"
    assert Acts(full_desk).do(asked)["kind"] == "stored"
    assert len(rows(full_desk)) == 1


def test_a_refused_reading_may_be_sent_again(full_desk, acts):
    """What was refused is not remembered as done."""
    asked = ACT | {"do": "type", "text": "22.01", "token": "t1", "place": "thickness bottom"}
    assert acts.do(asked)["kind"] == "refused"
    assert acts.do(asked | {"place": "thickness top"})["kind"] == "stored"


def test_a_store_that_cannot_be_written_now_is_not_a_refusal(full_desk, acts, monkeypatch):
    """The browser keeps the reading and sends it later."""

    def full(*_):
        raise StoreError("the disk is full")

    asked = ACT | {"do": "type", "text": "22.01", "token": "t1"}
    with monkeypatch.context() as patched:
        patched.setattr(Store, "append", full)
        assert acts.do(asked) == {"kind": "later", "say": "the disk is full"}
    assert acts.do(asked)["kind"] == "stored"
    assert len(rows(full_desk)) == 1


def test_choosing_and_putting_down_are_rows(full_desk, acts):
    """The instrument reads the part until it is put down; an unknown part is refused."""
    acts.do(ACT | {"do": "choose", "token": "1", "bench": "North"})
    assert chosen(full_desk.store(), "CAL-1").bench == "North"
    assert acts.do(ACT | {"do": "choose", "part": "brase", "token": "2"})["kind"] == "refused"
    acts.do(ACT | {"do": "q", "token": "3"})
    assert chosen(full_desk.store(), "CAL-1") is None


def test_a_reading_heard_before_is_taken_as_by_the_instrument_that_sent_it(full_desk, acts):
    """Whichever instrument reads the part now."""
    heard = keep_heard(full_desk.store(), "CAL-1", Reading(Decimal("22.02"), "mm", b"22.02"))
    done = acts.do(ACT | {"by": "", "do": "take-heard", "of": str(heard.sequence), "token": "1"})
    assert done["kind"] == "stored"
    assert [row.instrument for row in rows(full_desk)] == ["CAL-1"]


@pytest.mark.parametrize("do", ["x", "", "let-go", "take-heard", "ask"])
def test_an_act_that_makes_no_sense_is_refused_in_words(acts, do):
    """Never an exception."""
    answer = acts.do(ACT | {"do": do, "of": "99", "token": "1"})
    assert answer["kind"] == "refused"
    assert answer["say"]


def test_the_run_chart_draws_each_station_by_pass():
    """Pass against value, with the target and the limits it closes in on."""
    figure = passes_figure([Run("top", (22.3, 22.1)), Run("bottom", (22.0,))], 22.0, 21.75, 22.25, "mm")
    assert [(trace.name, list(trace.x), list(trace.y)) for trace in figure.data] == [
        ("top", [1, 2], [22.3, 22.1]),
        ("bottom", [1], [22.0]),
    ]
    band, line = figure.layout.shapes
    assert (band.y0, band.y1, line.y0) == (21.75, 22.25, 22.0)
    assert figure.layout.yaxis.title.text == "mm"
    assert not passes_figure([Run("top", (1.0, 2.0))], None, None, None, "mm").layout.shapes
