"""What is kept for opening the dashboard: a hash, a secret, and the sessions that were ended."""

from __future__ import annotations

import json
import shutil
import stat

import pytest

from dashboard.errors import ServeError
from dashboard.lan.keep import FILE, load_keep, make_keep

PHRASE = "walnut spruce ebony"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The file of a keep, made once, for a hash takes its time."""
    return make_keep(tmp_path_factory.mktemp("made"), PHRASE).path


@pytest.fixture
def keep(made, tmp_path):
    """A keep with a passphrase, in a folder of its own."""
    shutil.copy2(made, tmp_path)
    return load_keep(tmp_path)


def test_only_the_passphrase_matches(keep):
    """Neither nothing, nor a piece of it, nor other capitals."""
    assert keep.matches(PHRASE)
    assert not [wrong for wrong in ("", PHRASE[:-1], PHRASE.upper(), keep.hashed) if keep.matches(wrong)]


def test_the_passphrase_itself_is_nowhere_in_the_folder(keep, tmp_path):
    """One file, for its owner only, with an Argon2id hash in it."""
    files = list(tmp_path.iterdir())

    assert [file.name for file in files] == [FILE]
    assert stat.S_IMODE(files[0].stat().st_mode) == 0o600
    assert PHRASE not in files[0].read_text()
    assert json.loads(files[0].read_text())["passphrase"].startswith("$argon2id$")


def test_another_keyboard_types_the_same_passphrase(tmp_path):
    """A composed accent is a composed one wherever it comes from, and a phone's space after it is none."""
    keep = make_keep(tmp_path, "Ahorn Fichte \N{LATIN SMALL LETTER E WITH ACUTE}rable")

    assert keep.matches("Ahorn Fichte e\N{COMBINING ACUTE ACCENT}rable ")
    assert not keep.matches("Ahorn Fichte erable")


@pytest.mark.parametrize("short", ["", "seven77", "       walnut       "])
def test_a_short_passphrase_is_refused_and_nothing_kept(tmp_path, short):
    """Under 8 characters, spaces around it not counted."""
    with pytest.raises(ServeError, match="shorter than 8"):
        make_keep(tmp_path, short)

    assert list(tmp_path.iterdir()) == []


def test_it_is_the_same_after_a_restart(keep, tmp_path):
    """Hash, secret and ended sessions come back from the file."""
    keep.end("a-session", until=200.0, now=100.0)

    again = load_keep(tmp_path)

    assert (again.hashed, again.secret) == (keep.hashed, keep.secret)
    assert again.has_ended("a-session")
    assert not again.has_ended("another")


def test_an_ended_session_is_forgotten_when_it_would_be_over_anyway(keep, tmp_path):
    """So that the file does not grow for ever."""
    keep.end("old", until=200.0, now=100.0)
    keep.end("new", until=400.0, now=300.0)

    assert list(json.loads((tmp_path / FILE).read_text())["ended"]) == ["new"]


def test_another_passphrase_brings_another_secret(keep, tmp_path):
    """Sessions signed with the former one are worth nothing; the former passphrase neither."""
    other = make_keep(tmp_path, "maple cedar rosewood")

    assert other.secret != keep.secret
    assert not load_keep(tmp_path).matches(PHRASE)


def test_nothing_kept_is_none(tmp_path):
    """A shop that was never opened."""
    assert load_keep(tmp_path) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"passphrase": "x", "secret": "y", "ended": {}}',
        '{"passphrase": 1, "secret": 2, "ended": 3}',
    ],
)
def test_a_damaged_file_says_what_to_do(tmp_path, text):
    """One line that names the file and the way out; never an open door."""
    file = tmp_path / FILE
    file.write_text(text)
    file.chmod(0o600)

    with pytest.raises(ServeError, match=r"lan\.json cannot be used.*--new-passphrase"):
        load_keep(tmp_path)


@pytest.mark.parametrize("mode", [0o644, 0o640, 0o660, 0o606])
def test_a_file_that_others_can_read_is_refused(keep, tmp_path, mode):
    """With how to put it right."""
    (tmp_path / FILE).chmod(mode)

    with pytest.raises(ServeError, match="chmod 600"):
        load_keep(tmp_path)


def test_a_new_file_is_closed_even_where_an_open_one_stood(keep, tmp_path):
    """Choosing another passphrase also mends the file's mode."""
    (tmp_path / FILE).chmod(0o666)

    make_keep(tmp_path, "maple cedar rosewood")

    assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o600
