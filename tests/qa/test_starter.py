"""Starter shops: valid as they are, what was wanted in them, their comments kept, nothing overwritten."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.errors import ShopError
from qa.shop import load_shop
from qa.starter import STARTERS, Wanted, write_starter


@pytest.mark.parametrize("starter", STARTERS)
def test_each_starter_is_a_valid_shop(starter: str, tmp_path: Path) -> None:
    """The plan loads, is marked as invented, and has the part to measure first, with places to read."""
    made = write_starter(tmp_path / "shop", Wanted(starter=starter))
    shop = load_shop(tmp_path / "shop")
    plan = shop.plan(shop.model())
    assert plan.model == starter
    assert "An invented instrument" in made[1].read_text(encoding="utf-8").splitlines()[0]
    assert list(plan.parts[STARTERS[starter][1]].to_read())
    assert shop.species().keys() >= {part.species.replace(" ", "-") for part in plan.parts.values()}


def test_what_is_wanted_is_in_the_shop(tmp_path: Path) -> None:
    """Name, unit, caliper and profile are as said, and the comments are still there."""
    wanted = Wanted('Über "Berg" #1', "in", "lap-dulcimer", "socket://10.0.0.2:4000", "polled-line")
    made = write_starter(tmp_path, wanted)
    shop = load_shop(tmp_path)
    caliper = shop.instruments["caliper-1"]
    assert (shop.name, shop.unit, caliper.url, caliper.profile) == (
        'Über "Berg" #1',
        "in",
        "socket://10.0.0.2:4000",
        "polled-line",
    )
    assert "# mm: its display step" in made[0].read_text(encoding="utf-8")


def test_without_a_caliper_readings_are_typed(tmp_path: Path) -> None:
    """The usual answers give a shop in millimetres whose readings are typed."""
    write_starter(tmp_path)
    shop = load_shop(tmp_path)
    assert (shop.unit, shop.instruments["caliper-1"].url) == ("mm", None)


@given(st.text(min_size=1, max_size=30))
def test_any_name_of_one_line(name: str) -> None:
    """Whatever one line says, quotes and brackets too, is the shop's name again."""
    import tomllib

    from qa.starter import _shop

    wanted = Wanted(name=name)
    try:
        wanted.check()
    except ShopError:
        return
    assert tomllib.loads(_shop(wanted))["name"] == name.strip()


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        (Wanted(name="  "), "one line of text"),
        (Wanted(name="a\nb"), "one line of text"),
        (Wanted(unit="cm"), "no unit is called 'cm'"),
        (Wanted(starter="cello"), "no starter plan is called 'cello'"),
        (Wanted(profile="telepathy"), "no profile is called 'telepathy'"),
    ],
)
def test_what_is_not_usable_is_refused_before_anything_is_made(
    wanted: Wanted, why: str, tmp_path: Path
) -> None:
    """Each says what is known, and the folder is not made."""
    with pytest.raises(ShopError, match=why):
        write_starter(tmp_path / "shop", wanted)
    assert not (tmp_path / "shop").exists()


def test_nothing_of_yours_is_overwritten(tmp_path: Path) -> None:
    """A shop.toml or a plan of the same name that is there stays, and so does the rest of the folder."""
    plan = tmp_path / "plans" / "tenor-ukulele.toml"
    plan.parent.mkdir()
    plan.write_text("mine", encoding="utf-8")
    with pytest.raises(ShopError, match=r"already holds a plans/tenor-ukulele\.toml"):
        write_starter(tmp_path)
    assert plan.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "shop.toml").exists()


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """A file in the way is told."""
    (tmp_path / "file").touch()
    with pytest.raises(ShopError, match="cannot be written"):
        write_starter(tmp_path / "file" / "shop")
