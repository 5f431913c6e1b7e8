"""What a bench shows of its part, from the readings alone."""

import pytest

from qa.bench.acts import open_bench, press, take_typed
from qa.bench.at_bench import Chosen
from qa.bench.view import Run, likely, look, places, runs
from qa.calipers.in_shop import instruments_of

AT = Chosen("CAL-1", "PG-01", "tail-block")


@pytest.fixture
def bench(shop, sqlite_store):
    """The tail block of PG-01, all thicknesses 18.0 to be judged to 0.15."""
    return open_bench(shop, sqlite_store, AT)


@pytest.fixture
def take(bench):
    """Takes typed readings, one after another."""
    count = iter(range(100))

    def take(*texts):
        for text in texts:
            take_typed(bench, text, "mm", f"token-{next(count)}")

    return take


@pytest.fixture
def view(bench, shop, sqlite_store):
    """Looks at the bench."""
    return lambda: look(bench, instruments_of(shop, sqlite_store), "mm")


def test_before_the_first_reading_there_is_only_the_place(view):
    """Nothing read, nothing judged, no cue."""
    found = view()
    assert (found.place.name, found.last, found.judged, found.cue) == (
        "thickness bottom-left", None, None, "",
    )  # fmt: skip
    assert (found.done, found.due, found.turn) == (0, 5, 1)


def test_the_last_reading_is_judged_and_the_next_place_named(view, take):
    """0.40 over a limit of 0.15 does not conform."""
    take("18.40")
    found = view()
    assert (found.last.value, found.judged.verdict, found.cue) == (18.4, "does not conform", "outside")
    assert (found.place.station.name, found.done) == ("bottom-right", 1)


def test_what_the_last_reading_completes_is_judged_too(view, take):
    """Taper appears with the fourth thickness: 18.20 and 18.20 less 18.00 and 18.00 is 0.20, over 0.10."""
    take("18.00", "18.00", "18.20")
    assert view().shape == ()
    take("18.20")
    found = view()
    assert [(item.characteristic, round(item.value, 6)) for item in found.shape] == [("taper", 0.2)]
    assert found.cue == "outside"
    assert found.advice.startswith("Take off ")


def test_a_doubted_reading_is_shown_and_not_judged(view, take):
    """A tenth of the target: held; the place stays."""
    take("1.80")
    found = view()
    assert (found.held, found.judged, found.cue, found.place.station.name) == (
        True, None, "doubted", "bottom-left",
    )  # fmt: skip


def test_an_undo_shows_the_reading_before_it_and_makes_no_sound(view, take, bench):
    """The withdrawn one is gone."""
    take("18.01", "18.40")
    press(bench, "u", "mm")
    found = view()
    assert (found.last.value, found.cue) == (18.01, "")


def test_planing_overtakes_what_was_read(view, take, bench):
    """The last number is old news and everything is to be read anew."""
    take("18.20")
    press(bench, "p", "mm")
    found = view()
    assert (found.overtaken, found.judged) == (True, None)
    assert found.place.station.name == "bottom-left"


def test_runs_tell_each_station_pass_by_pass(take, bench):
    """From the second pass on."""
    take("18.30", "18.20", "18.30", "18.20", "0.05")
    assert runs(bench.part, bench.rows(), "thickness") == ()
    take("18.10")
    found = runs(bench.part, bench.rows(), "thickness")
    assert found[0] == Run("bottom-left", (18.3, 18.1))
    assert [len(run.values) for run in found] == [2, 1, 1, 1]
    assert runs(bench.part, bench.rows(), "squareness") == ()


def test_a_make_believe_part_closes_in_on_its_target(bench, take):
    """Thick at the top at first, inside the limits on the second pass."""
    at_bottom, at_top = [], []
    for _ in range(2):
        for _ in range(4):
            place = bench.next_place()
            (at_top if place.station.y else at_bottom).append(likely(place))
            take(f"{likely(place):.2f}")
        take("0.03")
    assert at_top[0] > 18.15 > at_top[2] > 18.0
    assert at_bottom[0] < at_top[0]


def test_every_place_has_its_name(bench):
    """As the page and the tokens call it."""
    assert list(places(bench.part)) == [
        "thickness bottom-left", "thickness bottom-right", "thickness top-left", "thickness top-right",
        "squareness",
    ]  # fmt: skip
