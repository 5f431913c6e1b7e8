"""A shop folder is read whole or refused with every problem; names it does not know are answered."""

import datetime as dt
import string

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import PlanError, QaError, ShopError
from qa.shop import find_folder, load_shop
from qa.starter import write_starter
from qa.store.address import absolute_store


def test_a_shop_is_read(shop, folder):
    """Name, instruments with their usual values, plans, and the store beside it."""
    assert shop.name == "A shop of the tests"
    assert shop.store_url == f"sqlite:///{folder / 'readings.db'}"
    assert shop.instrument("CAL-1").repeatability == 0.01
    assert shop.instrument("CAL-2").max_permissible_error == 0.03
    assert shop.model() == "parlour-guitar"
    assert shop.zone().utcoffset(dt.datetime(2025, 7, 1, tzinfo=dt.UTC)) == dt.timedelta(0)


def test_names_that_are_not_known_name_the_near_ones(shop):
    """For instruments and models."""
    with pytest.raises(ShopError, match=r"CAL-3.*known: CAL-[12].*add \[instruments.CAL-3\]"):
        shop.instrument("CAL-3")
    with pytest.raises(ShopError, match=r"parlor-guitar.*known: parlour-guitar"):
        shop.model("parlor-guitar")
    with pytest.raises(ShopError, match="parlor-guitar"):
        shop.plan("parlor-guitar")
    assert shop.instrument_or_typed("nobody").id == ""


def test_a_line_is_a_device_a_url_or_a_name_in_the_folder(folder):
    """An instrument without one is typed."""
    lines = 'a = {url = "/dev/ttyUSB0"}\nb = {url = "socket://h:1"}\nc = {url = "line"}\nd = {}\n'
    (folder / "shop.toml").write_text(f"[instruments]\n{lines}")
    shop = load_shop(folder)
    urls = [shop.line_url(shop.instrument(name)) for name in "abc"]
    assert urls == ["/dev/ttyUSB0", "socket://h:1", str(folder / "line")]
    with pytest.raises(ShopError, match="readings are typed"):
        shop.line_url(shop.instrument("d"))


def test_revisions_hold_from_their_day(folder, plan_text):
    """A build stays under the plan of the day it was begun; before the first, under the first."""
    for since in ("2025-06-01", "2024-01-01"):
        later = plan_text.replace('unit = "mm"', f'unit = "mm"\nsince = {since}', 1)
        (folder / "plans" / f"r{since}.toml").write_text(later)
    shop = load_shop(folder)
    days = [None, dt.date(2023, 1, 1), dt.date(2024, 1, 1), dt.date(2025, 5, 31), dt.date(2025, 6, 1)]
    names = [shop.plan("parlour-guitar", day).name for day in days]
    assert names == ["r2025-06-01", "parlour-guitar", "r2024-01-01", "r2024-01-01", "r2025-06-01"]
    assert shop.revision(shop.plan("parlour-guitar").digest) is shop.plan("parlour-guitar")
    assert shop.revision("nothing") is None


def test_two_plans_of_one_model_need_a_date(folder, plan_text):
    """Otherwise nobody could say which one holds."""
    (folder / "plans" / "second.toml").write_text(plan_text)
    with pytest.raises(PlanError, match=r"second\.toml.*`since` date"):
        load_shop(folder)


@pytest.mark.parametrize(
    ("line", "key", "why"),
    [
        ('unit = "cm"', "unit", "none of: mm, in"),
        ('timezone = "Atlantis"', "timezone", "not a known time zone"),
        ('timezone = "/etc/passwd"', "timezone", "not a known time zone"),
        ("nam = 1", "nam", "did you mean 'name'"),
        ("[instruments.X]\nresolution = 0", "instruments.X.resolution", "above 0"),
        ("[instruments.X]\nrepeatability = -1", "instruments.X.repeatability", "above 0"),
        ("[instruments.X]\nmax_permissible_error = nan", "instruments.X.max_permissible_error", "finite"),
        ("[instruments.X]\nquantity = 'weight'", "instruments.X.quantity", "none of"),
        ("[instruments.X]\ncheck_every_days = -3", "instruments.X.check_every_days", "a day or more"),
        ("[instruments.X]\ncheck_every_days = 0.2", "instruments.X.check_every_days", "a day or more"),
        ("[instruments.X]\nbaud = 9600", "instruments.X.baud", "not a key"),
        ("[instruments]\nX = 3", "instruments.X", "must be a table"),
        ("instruments = 3", "instruments", "must be tables"),
    ],
)
def test_each_slip_of_the_shop_file_is_named(folder, line, key, why):
    """With its line and key."""
    (folder / "shop.toml").write_text(line + "\n")
    with pytest.raises(PlanError) as caught:
        load_shop(folder)
    found = {problem.key: problem for problem in caught.value.problems}
    assert why in found[key].why
    assert found[key].line == line.count("\n") + 1
    assert found[key].file == "shop.toml"


def test_problems_of_all_files_are_told_at_once(folder, plan_text):
    """Of shop.toml and of every plan."""
    (folder / "shop.toml").write_text("unit = 'cm'\n")
    (folder / "plans" / "a.toml").write_text(plan_text.replace("target = 18.0", "target = 0"))
    (folder / "plans" / "b.toml").write_text("[[[")
    with pytest.raises(PlanError) as caught:
        load_shop(folder)
    assert {problem.file for problem in caught.value.problems} == {"shop.toml", "a.toml", "b.toml"}


def test_a_folder_that_is_no_shop(tmp_path, folder, monkeypatch):
    """By name, by DRYFIT_SHOP, or the current folder; otherwise it says what to do."""
    assert find_folder(str(folder)) == folder
    monkeypatch.setenv("DRYFIT_SHOP", str(folder))
    assert find_folder(None) == folder
    monkeypatch.delenv("DRYFIT_SHOP")
    monkeypatch.chdir(folder)
    assert find_folder(None) == folder
    with pytest.raises(ShopError, match="dryfit new FOLDER"):
        find_folder(str(tmp_path))
    with pytest.raises(ShopError, match="holds no"):
        find_folder(str(tmp_path / "nowhere"))


def test_a_shop_without_plans(folder):
    """Loads, and says so when a model is needed."""
    (folder / "plans" / "parlour-guitar.toml").unlink()
    with pytest.raises(ShopError, match="there is no plan"):
        load_shop(folder).model()


def test_a_shop_file_that_is_no_text(folder):
    """Another encoding is named as that."""
    (folder / "shop.toml").write_bytes('name = "Ä"'.encode("latin-1"))
    with pytest.raises(ShopError, match="not UTF-8"):
        load_shop(folder)


def test_the_store_is_beside_the_shop_wherever_that_is(folder):
    """A relative file is in the folder; an absolute one and a server are left as they are."""
    assert absolute_store("sqlite:///x.db", folder) == f"sqlite:///{folder}/x.db"
    assert absolute_store("sqlite:////srv/x.db", folder) == "sqlite:////srv/x.db"
    assert absolute_store("postgresql+psycopg://u@h/d", folder) == "postgresql+psycopg://u@h/d"


def test_the_starter_shop_is_without_fault(tmp_path):
    """What `dryfit new` writes can be used as it is, and is never written over."""
    made = write_starter(tmp_path / "new")
    shop = load_shop(tmp_path / "new")
    assert all(path.is_file() for path in made)
    assert shop.plan(shop.model()).part("tail-block")
    with pytest.raises(ShopError, match="already holds"):
        write_starter(tmp_path / "new")
    (tmp_path / "file").write_text("")
    with pytest.raises(ShopError, match="cannot be written"):
        write_starter(tmp_path / "file" / "shop")


LEAF = st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.dates()
ANY = st.recursive(
    LEAF,
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.text(string.ascii_lowercase, min_size=1, max_size=5), inner, max_size=2)
    ),
    max_leaves=4,
)
KEYS = ("name", "store", "unit", "timezone", "instruments")
INNER = ("profile", "url", "resolution", "max_permissible_error", "check_every_days", "quantity")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.dictionaries(st.sampled_from(KEYS), ANY, max_size=3),
    st.dictionaries(st.sampled_from(INNER), ANY, max_size=3),
)
def test_any_shop_file_is_a_shop_or_a_list_of_problems(folder, table, instrument):
    """Never another exception."""
    text = tomlkit.dumps({"instruments": {"C": instrument}} | table)
    (folder / "shop.toml").write_text(text, encoding="utf-8")
    try:
        shop = load_shop(folder)
    except QaError as error:
        assert str(error)  # noqa: PT017 - either way is right
        return
    assert shop.plans
