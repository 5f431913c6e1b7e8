"""At a bench: each act once however often it is sent, and known to every program over the store."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from drivers.reading import Reading
from qa.bench.acts import open_bench, pending_again, press, take_heard, take_typed
from qa.bench.at_bench import Chosen, keep_heard, unplaced
from qa.errors import ShopError
from qa.instruments import Instrument
from qa.record import standing

AT = Chosen("CAL-1", "PG-01", "tail-block")


@pytest.fixture
def bench(shop, sqlite_store):
    """Opens the bench anew at every call, as after a restart."""
    return lambda: open_bench(shop, sqlite_store, AT)


def counting(bench):
    """Station and value of what counts, in the order taken."""
    return [(row.station, row.value) for row in standing(bench().rows())]


def test_the_same_token_is_taken_once(bench):
    """Sent again by another program after a restart, it finds its row; another token is another reading."""
    first = take_typed(bench(), "18.02", "mm", "token-1")
    again = take_typed(bench(), "18.02", "mm", "token-1")
    assert (first.kind, again) == ("stored", first)
    take_typed(bench(), "18.02", "mm", "token-2")
    assert counting(bench) == [("bottom-left", 18.02), ("bottom-right", 18.02)]


def test_a_reading_announced_but_not_taken_is_taken_by_the_retry(bench, sqlite_store, monkeypatch):
    """A server that dies between the two writes neither loses nor doubles it."""
    dying = bench()
    with monkeypatch.context() as patched:
        patched.setattr(dying.store, "append", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            take_typed(dying, "18.02", "mm", "token-1")
    assert counting(bench) == []
    for _ in range(2):
        take_typed(bench(), "18.02", "mm", "token-1")
    assert counting(bench) == [("bottom-left", 18.02)]
    (row,) = bench().rows()
    assert row.taken_at == sqlite_store.events("typed")[0].body["takes"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("18,x", "no unit is called"),
        ("", "nothing was typed"),
        ("2 %", "a percentage"),
        ("10500 mm", "beyond 10000 mm"),
    ],
)
def test_what_cannot_be_stored_is_refused_and_leaves_no_trace(bench, sqlite_store, text, why):
    """With the reason, and no event."""
    done = take_typed(bench(), text, "mm", "token-1")
    assert done.kind == "refused"
    assert why in done.say
    assert bench().rows() == []
    assert sqlite_store.events("typed") == []


def test_a_reading_meant_for_another_place_is_asked_about(bench):
    """The place went on meanwhile: refused once, and taken where it is named rightly."""
    take_typed(bench(), "18.0", "mm", "token-1")
    done = take_typed(bench(), "18.1", "mm", "token-2", place="thickness bottom-left")
    assert done.kind == "refused"
    assert "now thickness bottom-right" in done.say
    assert take_typed(bench(), "18.1", "mm", "token-2", place="thickness bottom-right").kind == "stored"


def test_a_bare_number_is_in_the_unit_it_was_shown_in(bench):
    """In inches where the screen shows inches; with its own unit, in that."""
    take_typed(bench(), "0.709", "in", "token-1")
    take_typed(bench(), "18.0 mm", "in", "token-2")
    assert [value for _, value in counting(bench)] == [18.0086, 18.0]  # 0.709 x 25.4


def test_what_an_instrument_typed_twice_is_held_and_what_a_person_typed_is_not(bench):
    """A button that bounces is asked about; a person who types the same again means it."""
    take_typed(bench(), "18.0", "mm", "token-1", wedge=True)
    assert take_typed(bench(), "18.0", "mm", "token-2", wedge=True).kind == "held"
    assert press(bench(), "a", "mm").kind == "done"
    assert take_typed(bench(), "18.0", "mm", "token-3").kind == "stored"
    assert [value for _, value in counting(bench)] == [18.0, 18.0, 18.0]


@pytest.mark.parametrize(("ago", "kind"), [((9.0, 0.5), "stored"), ((9.0, 8.8), "held")])
def test_what_waited_in_the_browser_is_doubled_by_when_it_was_typed(bench, ago, kind):
    """Two places equal within half a minute are normal, though they reach the server at once."""
    first, second = (dt.timedelta(seconds=each) for each in ago)
    take_typed(bench(), "18.0", "mm", "token-1", wedge=True, ago=first)
    assert take_typed(bench(), "18.0", "mm", "token-2", wedge=True, ago=second).kind == kind
    assert take_typed(bench(), "18.0", "mm", "token-2", wedge=True, ago=second).kind == kind
    assert len(bench().rows()) == 2


def test_an_instrument_that_measures_something_else_is_refused(shop, sqlite_store):
    """A hygrometer that types while a thickness is due: in words, and no trace is left."""
    meter = replace(shop, instruments={"HYG": Instrument("HYG", quantity="percent")})
    bench = open_bench(meter, sqlite_store, Chosen("HYG", "PG-01", "tail-block"))
    done = take_typed(bench, "45.2", "mm", "token-1", wedge=True)
    assert done.kind == "refused"
    assert "HYG reads %, but thickness is read in mm" in done.say
    assert (bench.rows(), sqlite_store.events("typed")) == ([], [])


def test_reading_again_is_known_after_a_restart(bench):
    """The next reading corrects the last, whichever program takes it, and then no more."""
    take_typed(bench(), "18.3", "mm", "token-1")
    press(bench(), "r", "mm")
    assert bench().next_place().station.name == "bottom-left"
    take_typed(bench(), "18.1", "mm", "token-2")
    assert pending_again(bench()) is None
    take_typed(bench(), "18.2", "mm", "token-3")
    assert counting(bench) == [("bottom-left", 18.1), ("bottom-right", 18.2)]


def test_undo_takes_back_first_the_wish_to_read_again(bench):
    """Then the reading; then there is nothing."""
    take_typed(bench(), "18.3", "mm", "token-1")
    press(bench(), "r", "mm")
    assert "corrects nothing" in press(bench(), "u", "mm").say
    assert pending_again(bench()) is None
    assert counting(bench) == [("bottom-left", 18.3)]
    assert press(bench(), "u", "mm").say == "undone: thickness bottom-left"
    assert press(bench(), "u", "mm").kind == "nothing"
    assert counting(bench) == []


def test_a_held_correction_keeps_the_wish_until_it_counts(bench):
    """Doubted, undone, read anew: it still corrects."""
    take_typed(bench(), "18.3", "mm", "token-1")
    press(bench(), "r", "mm")
    assert take_typed(bench(), "1.81", "mm", "token-2").kind == "held"
    press(bench(), "u", "mm")
    take_typed(bench(), "18.1", "mm", "token-3")
    assert counting(bench) == [("bottom-left", 18.1)]


def test_a_retry_after_other_readings_is_found_too(bench, monkeypatch):
    """What was announced, then overtaken, is taken once however often it is sent."""
    dying = bench()
    with monkeypatch.context() as patched:
        patched.setattr(dying.store, "append", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            take_typed(dying, "18.02", "mm", "token-1")
    take_typed(bench(), "18.05", "mm", "token-2")
    for _ in range(3):
        take_typed(bench(), "18.02", "mm", "token-1")
    assert sorted(value for _, value in counting(bench)) == [18.02, 18.05]


@pytest.mark.parametrize("key", ["s", "p"])
def test_skipping_and_planing_end_the_wish_to_read_again(bench, key):
    """The next reading is a new one."""
    take_typed(bench(), "18.3", "mm", "token-1")
    press(bench(), "r", "mm")
    press(bench(), key, "mm", "not reachable")
    assert pending_again(bench()) is None


def test_a_number_is_no_reason_to_skip(bench):
    """A reading that an instrument typed into the wrong question is refused."""
    assert press(bench(), "s", "mm", "18.02").kind == "refused"
    assert bench().skipped() == []
    assert press(bench(), "s", "mm", "a knot").say == "skipped thickness bottom-left: a knot"


def test_a_reading_heard_before_is_taken_once_with_its_own_time(bench, sqlite_store):
    """Taking it twice finds the row."""
    at = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)
    heard = keep_heard(sqlite_store, "CAL-1", Reading(Decimal("18.02"), "mm", b"18.02", at))
    for _ in range(2):
        assert take_heard(bench(), heard, "mm").kind == "stored"
    (row,) = bench().rows()
    assert row.taken_at.startswith("2025-03-01T09:00:00")
    assert unplaced(sqlite_store) == []


def test_a_note_that_speaks_of_that_moment_is_no_reading_taken_then(bench, sqlite_store, plan, reading):
    """Another row's note names the time a reading was heard: it is taken all the same."""
    at = dt.datetime(2025, 3, 1, 9, 0, 30, tzinfo=dt.UTC)
    sqlite_store.append(reading(0, note="compare with that of 2025-03-01T09:00:30.000000Z"), plan)
    heard = keep_heard(sqlite_store, "CAL-1", Reading(Decimal("18.05"), "mm", b"18.05", at))
    assert take_heard(bench(), heard, "mm").kind == "stored"
    assert [value for _, value in counting(bench)] == [18.0, 18.05]


def test_a_line_reading_in_the_wrong_unit_is_refused(bench):
    """Per cent where millimetres are due."""
    with pytest.raises(ShopError, match="is read in mm"):
        bench().take(Reading(Decimal(8), "%", b"8 %"))


def test_a_part_or_key_nobody_knows_is_said(bench, shop, sqlite_store):
    """By name, with the near ones."""
    with pytest.raises(ShopError, match="tail-block"):
        open_bench(shop, sqlite_store, Chosen("CAL-1", "PG-01", "tale-block"))
    with pytest.raises(ShopError, match="no key 'x'"):
        press(bench(), "x", "mm")
