"""Every page draws itself on every sort of shop."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import pytest
from dash import html

from dashboard.desk import Desk
from dashboard.pages import PAGES, load_pages
from dashboard.shell import drawn_page
from qa.errors import ShopError
from qa.record import BenchEvent, utc
from qa.shop import load_shop
from qa.store.store import open_store


def as_json(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


def page(name):
    return next(page for page in load_pages() if page.name == name)


@pytest.mark.parametrize("name", PAGES)
def test_every_page_draws_on_every_shop(name, any_desk):
    """A page gives one heading and something below it, whatever the shop holds, and goes into JSON."""
    drawn = drawn_page(page(name), any_desk, {"build": "TG-1"})

    assert as_json(drawn).count('"H1"') == 1
    assert len(drawn.children) > 1


@pytest.mark.parametrize("name", PAGES)
def test_every_page_is_filed_under_its_name(name):
    """A page's name is its module's, its address starts at the root, and it has a title."""
    found = page(name)

    assert found.name == name
    assert found.path.startswith("/")
    assert found.title


def test_no_two_pages_share_an_address():
    """Each page has an address of its own."""
    paths = [page.path for page in load_pages()]

    assert len(set(paths)) == len(paths)


def test_builds_says_every_verdict_in_words(full_desk):
    """A mark never stands without its word for a screen reader."""
    text = as_json(page("builds").content(full_desk, {}))

    for words in ("Brace: conforms", "Brace: undecided", "Brace: does not conform", "Brace: not measured"):
        assert words in text


def test_a_build_tells_what_is_held_and_what_is_in_doubt(shops, tmp_path):
    """A verdict that rests on an instrument found off since, and a reading that waits for an answer."""
    folder = shops.full_shop(tmp_path / "shop")
    with open_store(load_shop(folder).store_url) as store:
        body = {"reference": 8.0, "reading": 8.3}
        at = utc(shops.BEGUN + dt.timedelta(days=30))
        store.add_event(BenchEvent(at, "check", instrument="CAL-1", body=body))
        held = replace(
            store.readings("TG-1", "brace")[0], taken_at=at, millionths=80_000_000, held=True,
            suspect="is 10 times its target: a decimal slip?",
        )  # fmt: skip
        store.append(held, load_shop(folder).plan("travel-guitar"))
    desk = Desk(folder)
    text = as_json(page("build").content(desk, {"build": "TG-1"}))
    desk.close()

    assert "may be 0.30 mm off: CAL-1 read 0.3 mm too high" in text
    assert "width middle: 80.00 mm is 10 times its target: a decimal slip? Kept but not counted" in text


def test_a_build_tells_why_a_value_cannot_be_told(shops, tmp_path):
    """The word "undecided" alone says nothing of what to do."""
    folder = shops.full_shop(tmp_path / "shop")
    angle = '[instruments.ANGLE-1]\nquantity = "angle"\n'
    (folder / "shop.toml").write_text((folder / "shop.toml").read_text() + angle)
    with open_store(load_shop(folder).store_url) as store:
        row = store.readings("TG-1", "brace")[0]
        at = utc(shops.BEGUN + dt.timedelta(days=30))
        store.append(replace(row, taken_at=at, instrument="ANGLE-1"), load_shop(folder).plan("travel-guitar"))
    desk = Desk(folder)
    text = as_json(page("build").content(desk, {"build": "TG-1"}))
    desk.close()

    assert "read by ANGLE-1, which measures angle in deg, not mm" in text


def test_builds_keeps_to_the_model_asked_for(full_desk):
    """The query names a model, and only its builds are drawn."""
    text = as_json(page("builds").content(full_desk, {"model": "lap-harp"}))

    assert "LH-1" in text
    assert "TG-1" not in text


def test_an_empty_shop_says_what_to_do_next(shops, tmp_path):
    """Both ways to a first reading are named."""
    desk = Desk(shops.empty_shop(tmp_path / "shop"))
    text = as_json(page("builds").content(desk, {}))
    desk.close()

    assert '"children": "at the bench", "href": "/bench"' in text
    assert "dryfit measure" not in text
    assert "dryfit load FILE" in text


def test_every_problem_of_a_plan_is_shown_with_its_place(shops, tmp_path):
    """File, line and key of each problem, all at once."""
    desk = Desk(shops.faulty_shop(tmp_path / "shop"))
    text = as_json(drawn_page(page("drift"), desk, {}))

    assert "travel-guitar.toml, line " in text
    assert "parts.tail-block.characteristics.taper.limmit" in text
    assert "parts.brace.characteristics.width.kind" in text


def test_a_build_shows_value_target_limits_deviation_and_verdict(full_desk):
    """Everything a verdict rests on stands in the build's table."""
    text = as_json(page("build").content(full_desk, {"build": "TG-6"}))

    for words in ("8.21 mm", "+0.21 mm", "target 8.00 mm", "7.85 to 8.15 mm", "does not conform"):
        assert words in text


def test_an_inch_shop_reads_inches(shops, tmp_path):
    """Lengths are shown in the shop's unit."""
    desk = Desk(shops.full_shop(tmp_path / "shop", "in"))
    text = as_json(page("build").content(desk, {"build": "TG-6"}))
    drift = as_json(page("drift").content(desk, {"part": "brace"}))
    desk.close()

    assert "0.3232 in" in text  # 8.21 mm / 25.4
    assert " mm" not in text
    assert "from target, in" in drift


def test_a_build_with_an_odd_name_is_found_by_its_address(full_desk, shops):
    """A name with a slash and a space survives the way into an address and back."""
    from dashboard.addresses import build_at

    shops.read(full_desk.folder, "TG 7/b", "travel-guitar", "brace", "width", "middle", 8.0, 8)
    written = build_at("TG 7/b").removeprefix("/build/")

    assert "/" not in written
    assert "TG 7/b" in as_json(page("build").content(full_desk, {"build": written}))


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"part": "tale-block"}, "tail-block"),
        ({"part": "brace", "characteristic": "breadth"}, "width"),
        ({"part": "brace", "characteristic": "width", "station": "end"}, "middle"),
    ],
)
def test_drift_names_what_is_near_an_unknown_name(full_desk, query, words):
    """An address that is out of date says what there is instead."""
    with pytest.raises(ShopError, match=words):
        page("drift").content(full_desk, query)


def test_drift_says_the_series_in_words(full_desk):
    """Number of builds, mean deviation, and who is out: 0.39 / 6 = 0.065."""
    text = as_json(page("drift").content(full_desk, {"part": "brace"})).replace(
        "\N{NON-BREAKING HYPHEN}", "-"
    )

    assert "6 builds, TG-1 to TG-6." in text
    assert "Mean +0.065 mm from the target" in text
    assert "1 does not conform: TG-6." in text
    assert "1 is undecided: TG-5." in text


@pytest.mark.parametrize("name", ["bench", "glueup", "decide", "drift", "plans", "plan_edit"])
def test_a_part_nobody_knows_is_no_fault_of_the_shop_s_files(name, full_desk):
    """An old bookmark: the page says which parts there are."""
    asked = {"model": "travel-guitar", "build": "TG-1", "part": "tale-block"}
    text = as_json(drawn_page(page(name), full_desk, asked))

    assert "is called 'tale-block'; known: tail-block" in text
    assert "files have problems" not in text


def test_a_page_shows_an_error_of_the_shop_in_its_place(full_desk):
    """A build nobody knows is said so, under the page's heading."""
    drawn = drawn_page(page("build"), full_desk, {"build": "TG-99"})

    assert isinstance(drawn, html.Div)
    assert "no build is called 'TG-99'" in as_json(drawn)
