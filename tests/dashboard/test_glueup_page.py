"""The Glue-up page and the glue decision, as they are drawn and as they are kept."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest
from dash import html

from dashboard.desk import Desk
from dashboard.once import Once
from dashboard.pages import decide, glueup
from qa.calipers.check import keep_check
from qa.calipers.climate import keep_climate
from qa.errors import ShopError
from qa.gate.gluing import look, override

BRACE = {"build": "TG-9", "part": "brace"}


def as_json(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


@pytest.fixture
def desk(full_desk, shops):
    """A shop with one build read today: its brace conforms, its tail block is high at the top."""
    today = (dt.datetime.now(dt.UTC) - shops.BEGUN).days
    for place, value in (("top", 22.4), ("bottom", 22.0)):
        shops.read(full_desk.folder, "TG-9", "travel-guitar", "tail-block", "thickness", place, value, today)
    shops.read(full_desk.folder, "TG-9", "travel-guitar", "brace", "width", "middle", 8.0, today)
    return full_desk


def test_every_part_has_its_gate_its_word_and_its_reasons(desk):
    """The newest build where the address names none."""
    text = as_json(glueup.content(desk, {}))

    assert "Glue-up of " in text
    assert text.count(">gate open<") == 1
    assert text.count(">gate closed<") == 1
    assert "1 of 2 gates is open" in text
    assert "thickness top is 22.40 mm, over the upper limit by 0.15 mm." in text
    assert "</span>Work<" in text
    assert "</span>Glue<" in text
    assert "The room's air is not known." in text


def test_a_build_nobody_knows_is_refused_with_the_near_ones(desk):
    """An address that is out of date."""
    with pytest.raises(ShopError, match="TG-9"):
        glueup.content(desk, {"build": "TG-99"})


def test_the_rooms_air_is_told_with_when_it_was_read(desk):
    """And closes the gates where it is outside the plan's window."""
    keep_climate(desk.store(), rh=62.0, temp=20.0)
    text = as_json(glueup.content(desk, BRACE))

    assert "Room 62 % RH, 20 °C" in text
    assert f", read {dt.datetime.now().astimezone():%Y-%m-%d}" in text
    assert "Gluing asks for 40 to 50 % RH." in text
    assert "The room is at 62 % RH" in text


def test_an_unknown_room_is_noted_or_typed_where_the_page_has_its_fields(desk):
    """On the gate's page below it, on the decision in its form; no word of the command."""
    gate, decision = (as_json(page.content(desk, BRACE)) for page in (glueup, decide))

    assert "so it could not be looked at. Note it below." in gate
    assert '"Note the room\'s air"' in gate
    assert "so it could not be looked at. Type it below." in decision
    assert '"decide-rh"' in decision
    assert "--rh" not in gate + decision


@pytest.mark.parametrize("page", [glueup, decide])
def test_an_instrument_to_be_checked_has_a_link_to_its_check(desk, page):
    """Never checked is a note of an open gate, failed a reason of a closed one; no word of the command."""
    link = '"children": "Check CAL-1", "href": "/calipers/check?instrument=CAL-1"'
    noted = as_json(page.content(desk, BRACE))
    shop, store = desk.shop(), desk.store()
    keep_check(store, shop.instrument("CAL-1"), [(Decimal(25), Decimal("25.30"))])
    closed = as_json(page.content(desk, BRACE))

    assert "CAL-1 has never been checked." in noted
    assert "CAL-1 was +0.30 mm off at its last check" in closed
    for text in (noted, closed):
        assert link in text
        assert "dryfit caliper" not in text


def test_reasons_are_told_in_the_unit_chosen(desk):
    """Only what is shown changes."""
    assert "1.0000 in" not in as_json(glueup.content(desk, {"build": "TG-9", "unit": "in"}))
    assert "0.8819 in, over the upper limit" in as_json(glueup.content(desk, {"build": "TG-9", "unit": "in"}))


def test_an_override_is_shown_for_ever(desk):
    """Its reason and what it went against, also after the part was read again."""
    shop, store = desk.shop(), desk.store()
    override(store, look(shop, store, "TG-9", "tail-block")[0], "hidden by the binding", "K")
    text = as_json(glueup.content(desk, {"build": "TG-9", "part": "tail-block"}))

    assert "gate open by override" in text
    assert text.count("hidden by the binding") == 2
    assert "Kept for ever" in text


def test_an_override_is_of_what_was_shown(desk, shops):
    """A station read while the confirmation was open may have lost the part."""
    asked = {"build": "TG-9", "part": "tail-block", "follows": 0}
    what, _ = decide._ask_override(desk, asked, {"reason": "hidden by the binding", "by": "K"}, None)
    today = (dt.datetime.now(dt.UTC) - shops.BEGUN).days
    shops.read(desk.folder, "TG-9", "travel-guitar", "tail-block", "thickness", "bottom", 20.0, today)

    with pytest.raises(ShopError, match="changed meanwhile: nothing was overridden"):
        decide._keep_override(desk, asked, what)
    assert desk.store().events("override") == []
    again, _ = decide._ask_override(desk, asked, {"reason": "hidden by the binding", "by": "K"}, None)
    for _ in range(2):
        assert "The override is kept" in as_json(
            decide._keep_override(desk, asked, json.loads(json.dumps(again)))
        )
    assert len(desk.store().events("override")) == 1


def test_a_closed_gate_has_no_form_for_a_glue_up(desk):
    """Only its reasons, and the way to an override."""
    closed = as_json(decide.content(desk, {"build": "TG-9", "part": "tail-block"}))
    opened = as_json(decide.content(desk, BRACE))

    assert "decide-go-on" not in closed
    assert "way=override" in closed
    assert "decide-go-on" in opened
    assert "Do the dry fit with every clamp first" in opened


def test_an_open_gate_has_nothing_to_override(desk):
    """An address kept from before."""
    text = as_json(decide.content(desk, BRACE | {"way": "override"}))

    assert "there is nothing to override" in text
    assert "decide-override" not in text


def test_a_glue_up_is_kept_once_with_the_air_as_typed(desk):
    """The same form sent again answers the same and keeps nothing more."""
    asked = BRACE | {"follows": 0}
    what = {"kept": {"glue": "hide", "clamps": 4}, "rh": 44.0, "temp": None, "note": "", "by": "K"}
    first, again = (as_json(decide._keep_glue(desk, asked, what)) for _ in range(2))

    assert "The glue-up is recorded" in first
    assert again == first
    (kept,) = desk.store().events("glue-up")
    assert kept.body == {"rh_percent": 44.0, "temp_c": None, "glue": "hide", "clamps": 4, "overridden": False}


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"dry": False}, "dry fit"),
        ({"glue": " "}, "Name the glue"),
        ({"open": "-5"}, "Open minutes: cannot be below zero"),
        ({"clamps": "3,5"}, "Clamps: how many"),
        ({"temp": "warm"}, "Temperature: cannot read 'warm'"),
        ({}, ""),
    ],
    ids=["no dry fit", "no glue", "below zero", "half a clamp", "no number", "enough"],
)
def test_what_a_glue_up_needs(typed, why):
    """The dry fit done, and the glue named; all else may be left blank."""
    given = dict.fromkeys(decide.GLUE_FIELDS, "") | {"dry": True, "glue": "hide"} | typed
    if why:
        with pytest.raises(ShopError, match=why):
            decide._what_of(given)
    else:
        assert decide._what_of(given)["kept"] == {"glue": "hide"}


def test_a_form_sent_twice_is_acted_on_once():
    """What raised may be sent again."""
    once, done = Once(), []

    def act(fail=False):
        done.append(fail)
        if fail:
            raise ShopError("no")
        return html.P(str(len(done)))

    with pytest.raises(ShopError):
        once.do("a", lambda: act(fail=True))
    assert once.do("a", act) is once.do("a", act)
    assert once.do("b", act).children == "3"
    assert done == [True, False, False]


def test_an_empty_shop_says_what_to_do_next(shops, tmp_path):
    """No build, no gate."""
    empty = Desk(shops.empty_shop(tmp_path / "empty"))
    text = as_json(glueup.content(empty, {}))
    empty.close()

    assert "glueup-body" in text  # which its first reading fills

    assert "Nothing has been measured" in text


def test_a_place_has_one_name_on_a_page(desk, shops):
    """Its words, in reasons as in tables; a number keeps its minus sign."""
    path = desk.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text().replace("top = [0, 74]", "top-left = [0, 74]"), encoding="utf-8")
    today = (dt.datetime.now(dt.UTC) - shops.BEGUN).days
    for place, value in (("top-left", 22.4), ("bottom", 22.0)):
        shops.read(desk.folder, "TG-9", "travel-guitar", "tail-block", "thickness", place, value, today)
    fresh = Desk(desk.folder)
    for query in ({"build": "TG-9"}, {"build": "TG-9", "part": "tail-block"}):
        text = as_json(glueup.content(fresh, query))
        assert "thickness top left is 22.40 mm, over the upper limit" in text
        assert "top-left" not in text
    text = as_json(decide.content(fresh, {"build": "TG-9", "part": "tail-block", "way": "override"}))
    assert "thickness top left is 22.40 mm" in text


def test_air_that_was_only_typed_can_be_overridden(desk):
    """The refusal leads to an override in that air; the form that follows has it, and its glue-up is kept."""
    asked = BRACE | {"follows": 0}
    typed = dict.fromkeys(decide.GLUE_FIELDS, "") | {"dry": True, "glue": "hide", "rh": "62", "temp": "20"}
    _, shut, form, kept, told = decide._ask(decide._ask_glue, desk, asked, typed, None)
    assert (shut, form, kept) == (True, False, None)
    way = "/glueup/decide?build=TG-9&part=brace&way=override&rh=62&temp=20"
    assert "With this air the gate is closed." in as_json(told)
    assert way in as_json(told)

    query = BRACE | {"way": "override", "rh": "62", "temp": "20"}
    assert "The room is at 62 % RH" in as_json(decide.content(desk, query))
    asked |= {"rh": "62", "temp": "20"}
    what, _ = decide._ask_override(desk, asked, {"reason": "it dries in here", "by": "K"}, None)
    following = as_json(decide._keep_override(desk, asked, what))
    assert "/glueup/decide?build=TG-9&part=brace&rh=62&temp=20" in following
    (event,) = desk.store().events("override")
    assert event.body["rh_percent"] == 62

    form = as_json(decide.content(desk, BRACE | {"rh": "62", "temp": "20"}))
    assert "gate open by override" in form
    what, _ = decide._ask_glue(desk, asked, typed, None)
    assert "The glue-up is recorded" in as_json(decide._keep_glue(desk, asked, what))
    (glued,) = desk.store().events("glue-up")
    assert (glued.body["rh_percent"], glued.body["overridden"]) == (62.0, True)


def test_an_address_with_air_that_cannot_be_is_refused(desk):
    """In place of the page."""
    with pytest.raises(ShopError, match="120 % is no relative humidity"):
        decide.content(desk, BRACE | {"rh": "120"})


def test_a_part_glued_again_is_confirmed_as_that(desk):
    """What is said yes to is what is kept."""
    first = decide._keep_glue(
        desk,
        BRACE | {"follows": 0},
        {"kept": {"glue": "hide"}, "rh": 44.0, "temp": None, "note": "", "by": ""},
    )
    assert "recorded" in as_json(first)
    (glued,) = desk.store().events("glue-up")
    typed = dict.fromkeys(decide.GLUE_FIELDS, "") | {"dry": True, "glue": "hide", "rh": "44"}
    asked = BRACE | {"follows": glued.sequence}
    what, confirm = decide._ask_glue(desk, asked, typed, None)
    assert '"children": "again"' in as_json(confirm)
    decide._keep_glue(desk, asked, what)
    assert desk.store().events("glue-up")[-1].body["again"] is True
