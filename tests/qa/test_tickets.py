"""Tickets and records: what stands on the paper, that it is whole in itself, and that it prints."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from qa.errors import QaError, ShopError
from qa.gate.gluing import look, override
from qa.judge import judge_part
from qa.paper.build_record import place_between, record_of, strip_svg
from qa.paper.html import record_page, ticket_page
from qa.paper.pdf import write_pdf
from qa.paper.tickets import bench_link, tickets_of
from qa.plans.plan import Plan
from qa.record import BenchEvent, BenchReading, utc
from qa.shop import Shop, load_shop
from qa.store.store import Store, open_store

NOW = dt.datetime(2026, 3, 2, 10, tzinfo=dt.UTC)
PLACES = ("bottom-left", "bottom-right", "top-left", "top-right")


def reading(station: str, mm: float, characteristic: str = "thickness", build: str = "B-1") -> BenchReading:
    """A reading of the tail block an hour before now."""
    at = utc(NOW - dt.timedelta(hours=1))
    return BenchReading(at, build, "tail-block", characteristic, station, round(mm * 1_000_000))


@pytest.fixture
def measured(shop: Shop, plan: Plan) -> Store:
    """The shop's store with a tail block read, one corner thick by 0.3 mm."""
    store = open_store(shop.store_url)
    for station, mm in zip(PLACES, (18.0, 18.0, 18.02, 18.45), strict=True):
        store.append(reading(station, mm), plan)
    store.append(reading("", 0.02, "squareness"), plan)
    return store


def test_a_part_not_read_gets_an_empty_box_for_every_value(shop: Shop) -> None:
    """A blank ticket has a box for each station, each characteristic read once, and each worked out."""
    with open_store(shop.store_url) as store:
        found = tickets_of(shop, store, "B-1", "tail-block", now=NOW)
    page = ticket_page(found)
    assert found[0].blank
    assert page.count('class="box"') == 6
    assert "target 18.00 mm, 17.85 mm to 18.15 mm" in page
    assert "gate" not in page.partition("</style>")[2]


def test_a_read_part_is_filled_with_verdicts_and_the_gate(shop: Shop, measured: Store) -> None:
    """The filled ticket tells each value, what does not conform, and the gate's reasons."""
    found = tickets_of(shop, measured, "B-1", "tail-block", now=NOW)
    page = ticket_page(found)
    gate, _ = look(shop, measured, "B-1", "tail-block", now=NOW)
    assert "18.45 mm" in page
    assert "does not conform, +0.45 mm from target" in page
    assert "The gate before glue-up was closed. Next: work." in page
    assert gate.reasons
    assert all(reason.why in page for reason in gate.reasons)
    assert 'class="box"' not in page


def test_blank_on_request(shop: Shop, measured: Store) -> None:
    """A read part has a blank ticket where one is asked for, and a part not read beside it has one anyway."""
    found = tickets_of(shop, measured, "B-1", blank=True, now=NOW)
    assert [ticket.blank for ticket in found] == [True, True]
    assert [ticket.blank for ticket in tickets_of(shop, measured, "B-1", now=NOW)] == [False, True]


def test_an_override_and_its_reason_stand_on_the_ticket(shop: Shop, measured: Store) -> None:
    """An override is told with its reason, however long, and markup in it stays text."""
    gate, _ = look(shop, measured, "B-1", "tail-block", now=NOW)
    reason = "<script>alert(1)</script> " + "for the hidden face, " * 200
    override(measured, gate, reason, now=NOW)
    page = ticket_page(tickets_of(shop, measured, "B-1", "tail-block", now=NOW))
    assert "open by override" in page
    assert "&lt;script&gt;" in page
    assert "<script>" not in page
    assert page.count("for the hidden face") == 200


def test_lengths_in_the_unit_of_the_shop(shop: Shop) -> None:
    """A shop in inches has its ticket in inches, the drawing's dimensions too."""
    inches = replace(shop, unit="in")
    with open_store(shop.store_url) as store:
        page = ticket_page(tickets_of(inches, store, "B-1", "tail-block", now=NOW))
    assert "target 0.7087 in" in page
    assert "2.362 in" in page


def test_the_link_leads_to_the_part_on_the_bench_page() -> None:
    """Names of any script are quoted in the link; an address that is none is refused."""
    assert bench_link("http://10.0.0.2:8050/", "B 1&x", "左") == (
        "http://10.0.0.2:8050/bench?build=B%201%26x&part=%E5%B7%A6"
    )
    for wrong in ("10.0.0.2", "ftp://x", "", "http://", "javascript:alert(1)", "http://x/?a=1"):
        with pytest.raises(ShopError, match="not the address"):
            bench_link(wrong, "B", "p")


def test_names_too_long_for_a_qr_code_are_refused(shop: Shop) -> None:
    """A build's name that no QR code holds is told, not cut."""
    with open_store(shop.store_url) as store:
        found = tickets_of(shop, store, "x" * 5000, "tail-block", now=NOW)
    with pytest.raises(QaError, match="too long for a QR code"):
        ticket_page(found)


def test_a_page_fetches_nothing(shop: Shop, measured: Store) -> None:
    """Neither page names anything outside itself but the link under the QR code's drawing and XML names."""
    tickets = ticket_page(tickets_of(shop, measured, "B-1", now=NOW))
    record = record_page(record_of(shop, measured, "B-1", NOW))
    for page in (tickets, record):
        bare = page.replace("http://www.w3.org/2000/svg", "")
        assert not any(word in bare for word in ("http", "src=", "href=", "url(", "@import", "<script"))


def test_the_record_tells_verdicts_outside_values_and_decisions(shop: Shop, measured: Store) -> None:
    """The owner reads what conforms, what does not and by how much, what was decided, and what it means."""
    gate, _ = look(shop, measured, "B-1", "tail-block", now=NOW)
    override(measured, gate, "veneered afterwards", "North", now=NOW)
    found = record_of(shop, measured, "B-1", NOW)
    page = record_page(found)
    assert not found.fit
    assert "Tail block: thickness top-right 18.45 mm, +0.45 mm from target, does not conform" in page
    assert "veneered afterwards" in page
    assert "Not measured: Side." in page
    assert "undecided</b>: so near a limit" in page


def test_a_record_counts_what_stands_and_keeps_what_was_corrected(
    shop: Shop, measured: Store, plan: Plan
) -> None:
    """A withdrawn reading is counted as kept, and the rest as counting."""
    last = measured.readings("B-1")[-1]
    measured.append(replace(last, millionths=None, corrects=last.sequence, taken_at=utc(NOW)), plan)
    found = record_of(shop, measured, "B-1", NOW)
    assert (found.readings, found.corrected) == (4, 2)


def test_a_reading_read_again_since_is_kept_and_does_not_count(
    shop: Shop, measured: Store, plan: Plan
) -> None:
    """Of two readings of one station the later counts."""
    measured.append(replace(reading("top-right", 18.0), taken_at=utc(NOW)), plan)
    found = record_of(shop, measured, "B-1", NOW)
    assert (found.readings, found.corrected) == (5, 1)


def test_a_record_tells_what_instruments_found_in_their_own_unit(folder: Path, plan: Plan) -> None:
    """A moisture meter is off by per cent, not by millimetres."""
    meter = '[instruments.DAMP-1]\nquantity = "percent"\nmax_permissible_error = 1.0\n'
    (folder / "shop.toml").write_text((folder / "shop.toml").read_text() + meter, encoding="utf-8")
    shop, damp = load_shop(folder), reading("", 8.0, "moisture")
    with open_store(shop.store_url) as store:
        store.append(replace(damp, part="side", unit="%", instrument="DAMP-1"), plan)
        body = {"reference": 12.0, "reading": 14.5}
        store.add_event(BenchEvent("2026-03-01T09:00:00.000000Z", "check", instrument="DAMP-1", body=body))
        page = record_page(record_of(shop, store, "B-1", NOW))
    assert "DAMP-1: found +2.5 % off on 2026-03-01" in page


def test_a_record_tells_what_an_instrument_found_off_since_leaves_in_doubt(shop: Shop, plan: Plan) -> None:
    """Its owner is not told that all conforms and no more."""
    with open_store(shop.store_url) as store:
        store.append(replace(reading("top-left", 18.0), instrument="CAL-1"), plan)
        body = {"reference": 18.0, "reading": 18.30}
        store.add_event(BenchEvent(utc(NOW), "check", instrument="CAL-1", body=body))
        page = record_page(record_of(shop, store, "B-1", NOW))
    assert "What is in doubt" in page
    assert "Tail block: thickness top-left may be 0.30 mm off: CAL-1 read 0.3 mm too high" in page


def test_a_ticket_tells_whether_clamping_moved_more_than_the_readings_leave_in_doubt(
    shop: Shop, measured: Store, plan: Plan
) -> None:
    """A change within the doubt of two readings is none that clamping made."""
    measured.add_event(BenchEvent(utc(NOW - dt.timedelta(minutes=30)), "glue-up", "B-1", "tail-block"))
    measured.append(replace(reading("top-left", 18.03), taken_at=utc(NOW)), plan)
    page = ticket_page(tickets_of(shop, measured, "B-1", "tail-block", now=NOW))
    told = (
        "thickness top-left went from 18.02 mm to 18.03 mm, +0.01 mm (± 0.06 mm), no more than the readings"
    )
    assert told in page


@pytest.mark.parametrize(("damp", "words"), [(43.0, "air of 43 % RH"), (46.5, "air of 43 to 46.5 % RH")])
def test_a_record_tells_the_air_it_was_read_in(shop: Shop, plan: Plan, damp: float, words: str) -> None:
    """One humidity, or from the lowest to the highest."""
    with open_store(shop.store_url) as store:
        store.append(replace(reading("top-left", 18.0), rh_percent=43.0), plan)
        store.append(replace(reading("top-right", 18.0), rh_percent=damp), plan)
        assert f"Read in {words}." in record_page(record_of(shop, store, "B-1", NOW))


def test_a_record_needs_a_build_that_was_begun(shop: Shop, measured: Store) -> None:
    """A build never begun has no record."""
    with pytest.raises(ShopError, match="no build is called"):
        record_of(shop, measured, "B-2", NOW)


def test_an_empty_build_has_a_readable_record(shop: Shop, plan: Plan) -> None:
    """A build whose only reading was withdrawn says that nothing counts."""
    with open_store(shop.store_url) as store:
        sequence = store.append(reading("top-left", 18.0), plan)
        gone = replace(reading("top-left", 18.0), millionths=None, corrects=sequence, taken_at=utc(NOW))
        store.append(gone, plan)
        page = record_page(record_of(shop, store, "B-1", NOW))
    assert "Nothing of this build has a reading that counts" in page


def test_a_value_lies_between_its_limits_as_far_as_it_is(plan: Plan, shop: Shop) -> None:
    """On the strip the lower limit is 0, the upper 1, and what lies far outside is drawn at its edge."""
    rows = [reading(s, mm) for s, mm in zip(PLACES, (17.85, 18.15, 18.0, 25.0), strict=True)]
    judged = judge_part(plan.parts["tail-block"], rows, shop.instrument_or_typed).characteristics[:4]
    places = [place_between(item) for item in judged]
    assert places[:3] == pytest.approx([0.0, 1.0, 0.5])
    assert places[3] == pytest.approx(1.45)
    assert strip_svg(judged).count('class="verdict') == 4


def test_pdf_of_ticket_and_record(shop: Shop, measured: Store, tmp_path: Path) -> None:
    """Both print as PDF: one A5 page for a block's ticket, one page for a small record."""
    pytest.importorskip("weasyprint")
    ticket = ticket_page(tickets_of(shop, measured, "B-1", "tail-block", now=NOW))
    assert write_pdf(ticket, tmp_path / "ticket.pdf") == 1
    assert write_pdf(record_page(record_of(shop, measured, "B-1", NOW)), tmp_path / "record.pdf") == 1
    assert (tmp_path / "ticket.pdf").read_bytes().startswith(b"%PDF")


def test_pdf_fetches_nothing(tmp_path: Path) -> None:
    """A page that names a file or an address is refused, and nothing is written."""
    pytest.importorskip("weasyprint")
    for source in ("http://127.0.0.1:9/x.png", (tmp_path / "secret.png").as_uri()):
        with pytest.raises(QaError, match="whole in itself"):
            write_pdf(f'<img src="{source}">', tmp_path / "page.pdf")
    assert not (tmp_path / "page.pdf").exists()


def test_sixty_stations_of_any_script_print(folder: Path, tmp_path: Path) -> None:
    """A plan of sixty stations with names in several scripts prints on A5, every name on the page."""
    pytest.importorskip("weasyprint")
    names = [f"{word} {i}" for i in range(15) for word in ("place", "место", "مكان", "位置")]
    table = ", ".join(f'"{name}" = [{i % 6 * 40}, {i // 6 * 30}]' for i, name in enumerate(names))
    (folder / "plans" / "big.toml").write_text(
        f'model = "big"\n[parts.top.characteristics.thickness]\nkind = "thickness"\n'
        "target = 3\ntolerance = 0.1\n"
        f"stations = {{ {table} }}\n",
        encoding="utf-8",
    )
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        page = ticket_page(tickets_of(shop, store, "B-9", model="big", now=NOW))
    assert all(f">{name}</span>" in page for name in names)
    assert 1 < write_pdf(page, tmp_path / "big.pdf") <= 4
