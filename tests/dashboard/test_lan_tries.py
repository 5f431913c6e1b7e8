"""Guessing is slow, and a link lets in once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.lan.tries import FROM_ALL, FROM_ONE, LONGEST_WAIT_S, WINDOW_S, OneTimeLink, Tries


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock():
    """A clock of the test's own."""
    return Clock()


@pytest.fixture
def tries(clock):
    """Tries counted by that clock."""
    return Tries(clock)


def use_up(tries, address):
    assert [tries.take(address) for _ in range(FROM_ONE)] == [0.0] * FROM_ONE


def test_the_sixth_try_within_a_minute_waits_a_minute(tries, clock):
    """Other addresses do not; nor does this one when the minute is over."""
    use_up(tries, "10.0.0.7")

    assert tries.take("10.0.0.7") == WINDOW_S
    assert tries.take("10.0.0.8") == 0.0
    clock.now += WINDOW_S - 1
    assert tries.take("10.0.0.7") == pytest.approx(1)
    clock.now += 1
    assert tries.take("10.0.0.7") == 0.0


def test_each_wait_is_twice_as_long_up_to_the_longest(tries, clock):
    """1, 2, 4, 8, 15 minutes, and it stays there."""
    waits = []
    for _ in range(7):
        use_up(tries, "10.0.0.7")
        waits.append(tries.take("10.0.0.7"))
        clock.now += waits[-1]

    assert waits == [60, 120, 240, 480, 900, 900, LONGEST_WAIT_S]


def test_slow_tries_never_wait(tries, clock):
    """A person who mistypes now and then."""
    for _ in range(50):
        assert tries.take("10.0.0.7") == 0.0
        clock.now += 15


def test_who_knew_the_passphrase_begins_anew(tries):
    """The count of an address is dropped when it signs in."""
    use_up(tries, "10.0.0.7")
    tries.forgive("10.0.0.7")

    use_up(tries, "10.0.0.7")


def test_many_addresses_together_wait_too(tries, clock):
    """An attacker with many addresses gets no more than FROM_ALL a minute."""
    assert [tries.take(f"10.0.0.{n}") for n in range(FROM_ALL)] == [0.0] * FROM_ALL
    assert tries.take("10.0.1.1") == WINDOW_S

    clock.now += WINDOW_S
    assert tries.take("10.0.1.1") == 0.0


@given(st.lists(st.tuples(st.integers(0, 40), st.floats(0, 30)), max_size=200))
def test_no_minute_ever_holds_more_tries_than_allowed(steps):
    """Whoever tries, and whenever: at most FROM_ONE from one address and FROM_ALL from all."""
    clock = Clock()
    tries, made = Tries(clock), []
    for who, later in steps:
        clock.now += later
        if tries.take(str(who)) == 0.0:
            made.append((who, clock.now))

    for _, moment in made:
        within = [who for who, time in made if moment - WINDOW_S < time <= moment]
        assert len(within) <= FROM_ALL
        assert all(within.count(who) <= FROM_ONE for who in within)


def test_quiet_addresses_are_forgotten(tries, clock):
    """Memory does not grow with the addresses that ever tried."""
    for n in range(100):
        tries.take(f"10.0.0.{n}")
        clock.now += 600

    assert len(tries._addresses) <= 6


def test_a_link_lets_in_once(clock):
    """The second use is refused, and so is looking at it afterwards."""
    link = OneTimeLink(clock)
    token = link.new()

    assert link.is_good(token)
    assert link.use(token)
    assert not link.is_good(token)
    assert not link.use(token)


def test_a_link_is_over_after_ten_minutes(clock):
    """Good until then; and not good where the clock was set back before it was made."""
    link = OneTimeLink(clock)
    token = link.new()

    clock.now += 599
    assert link.is_good(token)
    clock.now += 1
    assert not link.use(token)
    clock.now -= 2000
    assert not link.use(token)


def test_another_link_ends_the_one_before(clock):
    """Only the code shown last is good."""
    link = OneTimeLink(clock)
    first, second = link.new(), link.new()

    assert not link.use(first)
    assert link.use(second)


@pytest.mark.parametrize("token", ["", "x", "\N{GREEK SMALL LETTER ALPHA}", "é" * 5000])
def test_a_wrong_token_is_no_link(clock, token):
    """Before any link was made, and afterwards."""
    link = OneTimeLink(clock)
    assert not link.use(token)
    link.new()
    assert not link.use(token)
