"""A sheet of one's own is read before the store is locked for it."""

from qa.logs.loading import load
from qa.logs.sheets.rows import OwnSheet
from qa.store.store import open_store


def test_a_bench_stores_while_a_sheet_is_read(
    sheet, settled, names, shop, plan, store, store_url, reading, monkeypatch
):
    """To the last of its rows: nobody waits for that, and both are in the record."""
    read = sheet("guitar,date,waist\nA,2025-03-01,1.9\nB,2025-03-02,1.91\n")
    own = OwnSheet(read, settled(read)[0].layout, names)
    monkeypatch.setattr("qa.store.engine.WAIT_FOR_LOCK_MS", 100)
    with open_store(store_url) as bench:
        pieces = OwnSheet.pieces

        def slowly(own):
            yield from pieces(own)
            bench.append(reading(), plan)

        monkeypatch.setattr(OwnSheet, "pieces", slowly)
        result = load([own], shop, store)
    assert (result.loaded, result.problems) == (2, [])
    assert [row.build for row in store.readings()] == ["PG-01", "A", "B"]
