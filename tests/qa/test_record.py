"""Which rows of the record count: corrections, withdrawals and doubted readings in every order."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from qa.logs.loading import stored_rows
from qa.record import BenchReading, standing


def row(sequence, corrects=None, *, held=False, withdraws=False, at=None):
    """A row as the store gives it."""
    moment = f"2025-03-01T09:00:{sequence if at is None else at:02d}.000000Z"
    amount = None if withdraws else 18_000_000 + sequence
    return BenchReading(moment, "B", "p", "c", "s", amount, held=held, corrects=corrects, sequence=sequence)


def counting(*rows):
    """The sequences of the rows that count."""
    return [item.sequence for item in standing(rows)]


def test_later_readings_do_not_withdraw_earlier_ones():
    """Two readings of a station both stand; the later is the one a verdict takes."""
    assert counting(row(1), row(2)) == [1, 2]


def test_a_correction_takes_the_place_of_what_it_corrects():
    """The corrected row is kept but no longer counts."""
    assert counting(row(1), row(2, corrects=1)) == [2]


def test_a_withdrawn_reading_does_not_count():
    """Nor does the row that withdraws it."""
    assert counting(row(1), row(2, 1, withdraws=True)) == []


def test_corrections_of_corrections():
    """Only the last of a chain counts, whatever the order the rows come in."""
    rows = [row(1), row(2, 1), row(3, 2), row(4, 3)]
    assert counting(*rows) == [4]
    assert counting(*reversed(rows)) == [4]


def test_a_held_reading_does_not_count_until_accepted():
    """Accepting is a further row that corrects the held one."""
    assert counting(row(1), row(2, held=True)) == [1]
    assert counting(row(1), row(2, held=True), row(3, 2)) == [1, 3]


def test_a_held_correction_corrects_nothing_until_accepted():
    """What it would correct counts on; once it is accepted, no longer."""
    assert counting(row(1), row(2, 1, held=True)) == [1]
    assert counting(row(1), row(2, 1, held=True), row(3, 2)) == [3]


def test_undoing_a_correction_brings_back_what_it_corrected():
    """Undo takes the last step back, not two."""
    assert counting(row(1), row(2, 1), row(3, 2, withdraws=True)) == [1]
    assert counting(row(1), row(2, 1), row(3, 2), row(4, 3, withdraws=True)) == [2]


def test_undoing_twice_withdraws_both():
    """First the correction, then what it had corrected."""
    assert counting(row(1), row(2, 1), row(3, 2, withdraws=True), row(4, 1, withdraws=True)) == []


def test_undoing_an_acceptance():
    """The doubted reading is out again, and what it would have corrected counts again."""
    assert counting(row(1), row(2, held=True), row(3, 2), row(4, 3, withdraws=True)) == [1]
    assert counting(row(1), row(2, 1, held=True), row(3, 2), row(4, 3, withdraws=True)) == [1]


def test_a_clock_set_back_changes_nothing_of_corrections():
    """A correction counts by the order of the store, whatever the clock said when it was taken."""
    assert counting(row(1, at=30), row(2, 1, at=10)) == [2]
    assert counting(row(1, at=30), row(2, 1, at=20), row(3, 2, withdraws=True, at=10)) == [1]


def test_standing_rows_come_in_the_order_of_time():
    """Oldest first by when they were taken; the store's order settles a tie."""
    assert counting(row(1, at=30), row(2, at=10), row(3, at=10)) == [2, 3, 1]


@st.composite
def records(draw):
    """Any history: each row may be held, and may correct or withdraw an earlier one."""
    rows = []
    for sequence in range(1, draw(st.integers(1, 12))):
        corrects = draw(st.none() | st.integers(1, sequence - 1)) if sequence > 1 else None
        withdraws = corrects is not None and draw(st.booleans())
        held = not withdraws and draw(st.booleans())
        rows.append(row(sequence, corrects, held=held, withdraws=withdraws, at=draw(st.integers(0, 59))))
    return rows


@given(records(), st.randoms())
def test_any_history_is_settled(rows, random):
    """Nothing withdrawn or held counts, nor both a correction and its subject, in any order given."""
    found = counting(*rows)
    by_sequence = {item.sequence: item for item in rows}
    assert all(by_sequence[n].millionths is not None and not by_sequence[n].held for n in found)
    assert not any(by_sequence[n].corrects in found for n in found)
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert counting(*shuffled) == found


def test_a_key_is_16_bytes_and_in_the_order_of_time(reading):
    """So that a log in the order of time is stored by adding to the end."""
    keys = [reading(second).key for second in range(50)]
    assert keys == sorted(keys)
    assert {len(key) for key in keys} == {16}


def test_what_is_not_of_the_reading_itself_does_not_change_its_key(reading):
    """A note or the room's climate do not make another reading of it."""
    one = reading(3)
    assert replace(one, note="x", rh_percent=40.0, bench="b", sequence=9, plan="d").key == one.key


def test_a_logged_row_has_the_key_of_the_reading_it_is(shop, plan, log, good_row, sqlite_store):
    """A reading taken at the bench and the same one in a log are one reading."""
    from qa.logs.files import pieces
    from qa.logs.form import well_formed
    from qa.logs.places import against_plan, plan_table

    (piece,) = pieces(log(good_row(1), good_row(2)))
    form = well_formed(piece.frame, "log.csv", shop.zone())
    rows = stored_rows(against_plan(form.frame, plan_table(plan), "log.csv").frame, plan)
    with sqlite_store.writing() as connection:
        sqlite_store.note_build(connection, "PG-01", plan)
        assert sqlite_store.append_rows(connection, rows) == 2
    assert [item.key for item in sqlite_store.readings()] == [stored[0] for stored in rows]
