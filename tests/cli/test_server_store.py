"""The whole job over a PostgreSQL store: nothing changes but the address in shop.toml."""

import pytest

from qa.shop import load_shop
from qa.store.store import open_store


@pytest.fixture
def on_server(folder, postgres):
    """The small shop with its store on PostgreSQL; gives the address."""
    url = postgres()
    name_store(folder, url)
    return url


def name_store(folder, url):
    """Put a store's address into shop.toml."""
    path = folder / "shop.toml"
    lines = [line for line in path.read_text().splitlines() if not line.startswith("store =")]
    path.write_text("\n".join([f'store = "{url}"', *lines]) + "\n")


def test_load_check_glue_export_and_back_up(dryfit, on_server, log, good_row, folder, tmp_path):
    """Each command answers as over SQLite, and no SQLite file appears."""
    rows = log(*(good_row(n) for n in range(8)))
    assert dryfit("load", rows, "--json").json["loaded"] == 8
    assert dryfit("load", rows, "--json").json["duplicates"] == 8
    checked = dryfit("check", "PG-01", "tail-block", "--json").json
    assert checked["builds"][0]["parts"][0]["characteristics"][0]["value"] == 18.02
    assert dryfit("glueup", "PG-01", "tail-block", "--json").json["gate"] == "closed"
    assert dryfit("drift", "--json").status == 0
    assert dryfit("export", tmp_path / "out.csv").status == 0
    assert (tmp_path / "out.csv").read_text().count("PG-01") == 8
    assert dryfit("backup", tmp_path / "b.db", "--json").json["rows"]["readings"] == 8
    assert dryfit("verify", "--json").json["whole"]
    assert list(folder.glob("*.db*")) == []


def test_measuring_goes_on_where_it_was(program, dryfit, on_server):
    """A part read in two goes, the second by another program."""
    words = ("measure", "PG-01", "tail-block", "--instrument", "CAL-1")
    assert program(*words, typed="18.01\n18.02\n").stderr == ""
    said = dryfit(*words, typed="18.03\n18.04\n0.05\n")
    assert said.err == ""
    assert "going on after 2 rows" in said.out
    with open_store(on_server) as store:
        assert [row.value for row in store.readings()] == [18.01, 18.02, 18.03, 18.04, 0.05]


def test_there_and_back_again(dryfit, folder, postgres, log, good_row):
    """SQLite to PostgreSQL to SQLite: three equal digests, one head, and the shop follows."""
    assert dryfit("load", log(*(good_row(n) for n in range(12)))).status == 0
    first = dryfit("move-store", postgres(), "--json").json
    assert load_shop(folder).store_url.startswith("postgresql")
    second = dryfit("move-store", "sqlite:///again.db", "--json").json
    assert first == second
    assert load_shop(folder).store_url == f"sqlite:///{folder / 'again.db'}"
    assert dryfit("verify", "--json").json["head"] == first["head"]
    assert dryfit("load", log(good_row(50), name="more.csv")).status == 0
    assert dryfit("verify").status == 0


def test_the_address_from_the_environment(dryfit, folder, postgres, log, good_row, monkeypatch):
    """store = "env:NAME": the address, with its password, stays out of the folder."""
    url = postgres().replace("tests@", "tests:secret@")
    monkeypatch.setenv("DRYFIT_STORE", url)
    name_store(folder, "env:DRYFIT_STORE")
    found = dryfit("load", log(good_row(1)))
    assert (found.status, found.err) == (0, "")
    with open_store(url) as store:
        assert len(store.readings()) == 1
    assert dryfit("plan").status == 0


def test_an_environment_without_the_address(refused, dryfit, folder, log, good_row, monkeypatch):
    """Named as what is missing; what needs no store works."""
    monkeypatch.delenv("DRYFIT_STORE", raising=False)
    name_store(folder, "env:DRYFIT_STORE")
    assert "DRYFIT_STORE is not set" in refused("load", log(good_row(1)))
    assert dryfit("plan").status == 0


@pytest.mark.parametrize("how", ["of the user", "in the query"])
def test_a_password_in_clear_is_warned_of(dryfit, folder, postgres, log, good_row, how):
    """On stderr with every command that opens the store, and by the doctor; it is never repeated."""
    url = postgres()
    url = url.replace("tests@", "tests:secret@") if how == "of the user" else f"{url}&password=secret"
    name_store(folder, url)
    found = dryfit("load", log(good_row(1)))
    assert found.status == 0
    assert found.err.count("\n") == 1
    assert 'write store = "env:DRYFIT_STORE"' in found.err
    told = dryfit("doctor")
    assert "shop.toml holds the store's password" in told.out
    assert "secret" not in found.err + told.out + told.err


def test_a_server_that_is_not_there(refused, folder, log, good_row):
    """One line that says what to do."""
    name_store(folder, "postgresql+psycopg://nobody@127.0.0.1:1/x")
    assert "cannot be reached" in refused("load", log(good_row(1)))


def test_measuring_while_the_server_is_gone(program, dryfit, folder, postgres):
    """Each reading is kept here and told; the next time the server has them, in order and once."""
    name_store(folder, "postgresql+psycopg://nobody@127.0.0.1:1/x")
    said = program("measure", "PG-01", "side", "--instrument", "CAL-1", typed="1.91\n8\n")
    assert said.stderr == ""
    kept = "the server cannot be reached; readings are kept here ({}) and handed over when it is back"
    at = [said.stdout.index(kept.format(count)) for count in range(3)]
    assert at == sorted(at)
    assert at[0] < said.stdout.index("->")
    assert (folder / "spool.db").is_file()
    url = postgres()
    name_store(folder, url)
    again = dryfit("measure", "PG-01", "side", "--instrument", "CAL-1", typed="q\n")
    assert "the server is back; readings handed over: 2" in again.out
    assert "going on after 2 rows" in again.out
    with open_store(url) as store:
        assert [row.value for row in store.readings()] == [1.91, 8.0]
