"""The demo shop is made whole, a second time adds nothing, and no other shop is written over."""

import pytest

from qa.demo import LINE, make_demo
from qa.errors import ShopError
from qa.shop import load_shop
from qa.starter import write_starter
from qa.store.store import open_store


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo shop, made once."""
    return make_demo(tmp_path_factory.mktemp("demo") / "demo-shop")


def test_the_demo_shop_is_a_shop_with_two_years_of_readings(demo):
    """Every row of its logs is loaded, its diary is kept, and its caliper has a line."""
    assert demo.loaded.problems == []
    assert demo.loaded.loaded == demo.loaded.rows > 3000
    shop = load_shop(demo.folder)
    assert shop.line_url(shop.instrument("CAL-1")) == str(demo.folder / LINE)
    with open_store(shop.store_url) as store:
        assert len(store.readings()) == demo.loaded.loaded
        assert len(store.builds()) > 30
        assert len(store.events()) > 50


def test_a_second_time_adds_nothing(demo):
    """Neither readings nor diary; what was read since stays."""
    shop = load_shop(demo.folder)
    with open_store(shop.store_url) as store:
        before = len(store.readings()), len(store.events())
    again = make_demo(demo.folder)
    assert (again.loaded.loaded, again.loaded.duplicates) == (0, demo.loaded.rows)
    with open_store(shop.store_url) as store:
        assert (len(store.readings()), len(store.events())) == before


def test_another_shop_is_left_alone(tmp_path):
    """A folder that holds one is refused, and one that cannot be made."""
    write_starter(tmp_path / "mine")
    with pytest.raises(ShopError, match="holds another shop"):
        make_demo(tmp_path / "mine")
    (tmp_path / "file").write_text("")
    with pytest.raises(ShopError, match="cannot be written"):
        make_demo(tmp_path / "file" / "demo")
