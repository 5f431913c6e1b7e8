"""Studies typed or pasted, and kept for an instrument."""

import pytest

from qa.calipers.history import with_study
from qa.calipers.study import FEW, analyse
from qa.calipers.study_keeping import keep_study, study_of_text
from qa.calipers.study_wood import wood_of
from qa.calipers.study_words import say_other, say_studies
from qa.errors import CannotSay, ShopError
from qa.instruments import Instrument, budget
from qa.record import BenchEvent
from qa.store.store import open_store


@pytest.mark.parametrize(
    "text", ["2.50 2.52 2.51", "2.50\n2.52\n2.51\n", "2,50; 2,52; 2,51", "2.50, 2.52, 2.51"]
)
def test_numbers_are_repeats_of_one_part(text):
    """However they are kept apart; the standard deviation of 2.50, 2.52, 2.51 is 0.01."""
    made = analyse(study_of_text(text, "CAL-1"))
    assert made.of("CAL-1").repeatability == pytest.approx(0.01)
    assert made.of("CAL-1").n == 3
    assert made.notes == (FEW,)
    assert analyse(study_of_text("2.50 2.52 2.51 2.50 2.51", "CAL-1")).notes == ()


def test_a_table_keeps_its_parts_and_appraisers():
    """Pasted from a sheet, so with tabs."""
    rows = (
        "part appraiser trial value",
        "A CAL-1 1 2.50",
        "A CAL-1 2 2.52",
        "A CAL-2 1 2.6",
        "A CAL-2 2 2.5",
    )
    made = analyse(study_of_text("\n".join(rows).replace(" ", "\t"), "CAL-9"))
    assert [item.name for item in made.repeats] == ["CAL-1", "CAL-2"]


@pytest.mark.parametrize(("text", "why"), [("", "no readings yet"), ("2.5 two", "reading 2, 'two'")])
def test_what_cannot_be_read_is_told(text, why):
    """With its place."""
    with pytest.raises(ShopError, match=why):
        study_of_text(text, "CAL-1")


def test_a_kept_study_feeds_later_verdicts(shop):
    """The instrument repeats as the study found; another's study is refused."""
    made = analyse(study_of_text("2.50 2.52 2.51", "CAL-1"))
    with open_store(shop.store_url) as store:
        keep_study(store, made, Instrument("CAL-1"), "typed", "K")
        known = with_study(Instrument("CAL-1"), store.events())
        assert known.repeatability == pytest.approx(0.01)
        assert known.repeatability_dof == 2
        assert store.events("study")[0].by == "K"
        two = "part,appraiser,trial,value\nA,X,1,2.5\nA,X,2,2.6\nA,Y,1,2.5\nA,Y,2,2.7\n"
        with pytest.raises(CannotSay, match="none of CAL-1"):
            keep_study(store, analyse(study_of_text(two, "")), Instrument("CAL-1"), "typed")


def test_a_study_of_one_instrument_is_not_kept_for_another(shop):
    """A person's name may stand for any; that of another instrument may not."""
    ten = "part,appraiser,trial,value\n" + "".join(f"A,CAL-2,{n},2.5{n % 3}\n" for n in range(9))
    with open_store(shop.store_url) as store:
        with pytest.raises(CannotSay, match="readings of CAL-2, none of CAL-1"):
            keep_study(
                store, analyse(study_of_text(ten, "")), Instrument("CAL-1"), "typed", among=shop.instruments
            )
        by_hand = analyse(study_of_text(ten.replace("CAL-2", "Kim"), ""))
        keep_study(store, by_hand, Instrument("CAL-1"), "typed", among=shop.instruments)
        assert [item.instrument for item in store.events("study")] == ["CAL-1"]


def test_a_study_of_lengths_is_not_kept_for_a_meter(shop):
    """Its millimetres would be taken as per cent."""
    made = analyse(study_of_text("2.50 2.52 2.51 2.50 2.51", "MM-1"))
    with open_store(shop.store_url) as store:
        with pytest.raises(CannotSay, match="MM-1 measures percent"):
            keep_study(store, made, Instrument("MM-1", quantity="percent"), "typed")
        assert store.events("study") == []


def test_a_study_that_does_not_count_is_not_told(shop):
    """Two readings alike flatter: the status does not claim them."""
    made = analyse(study_of_text("2.500 2.501", "CAL-1"), species="teak")
    with open_store(shop.store_url) as store:
        keep_study(store, made, Instrument("CAL-1"), "typed")
        known = with_study(Instrument("CAL-1"), store.events())
    assert say_studies(known, "mm") == []
    assert "as shop.toml says" in say_other(known, "mm")


def studied(*found, **described):
    """An instrument with studies of (species, standard deviation), kept one after the other."""
    events = [
        BenchEvent(f"2026-01-0{day}T00:00:00Z", "study", instrument="CAL-1", body=body)
        for day, (species, sd) in enumerate(found, 1)
        for body in [{"repeatability": sd, "dof": 9} | ({"species": species} if species else {})]
    ]
    return with_study(Instrument("CAL-1", **described), events)


@pytest.mark.parametrize(
    ("studies", "wood", "taken", "said"),
    [
        ([], "teak", 0.01, "repeatability"),
        ([("", 0.02)], "teak", 0.02, "repeatability"),
        ([("", 0.02), ("sitka spruce", 0.03)], "Sitka-Spruce", 0.03, "repeatability on sitka spruce"),
        ([("", 0.02), ("sitka spruce", 0.03)], "teak", 0.02, "repeatability"),
        ([("black cherry", 0.012), ("cherry", 0.015)], "black cherry", 0.015, "repeatability on cherry"),
        ([("cherry", 0.012), ("spruce", 0.03)], "teak", 0.03, "repeatability on spruce, the largest known"),
        ([("cherry", 0.012), ("spruce", 0.03)], "", 0.03, "repeatability on spruce, the largest known"),
        ([("cherry", 0.005)], "spruce", 0.01, "repeatability"),
    ],
    ids=[
        "shop.toml",
        "any",
        "its own",
        "another's",
        "spelled two ways",
        "largest",
        "no wood",
        "less than said",
    ],
)
def test_a_reading_is_judged_by_the_study_of_its_wood(studies, wood, taken, said):
    """Else by the one of no wood, else by the largest known; and its budget says which."""
    _, repeats = budget(studied(*studies), wood).own
    assert (repeats.u, repeats.name) == (taken, said)


@pytest.mark.parametrize(("dof", "sd", "taken"), [(1, 0.003, 0.01), (3, 0.02, 0.02), (4, 0.003, 0.003)])
def test_a_study_of_few_readings_flatters_no_instrument(dof, sd, taken):
    """Below four degrees of freedom it may raise what shop.toml says (0.01), not lower it."""
    body = {"repeatability": sd, "dof": dof, "species": "teak"}
    event = BenchEvent("2026-01-01T00:00:00Z", "study", instrument="CAL-1", body=body)
    _, repeats = budget(with_study(Instrument("CAL-1"), [event]), "teak").own
    assert repeats.u == taken


def test_a_kept_study_names_its_wood_as_the_plans_do(shop):
    """A wood that neither plans nor figures know is refused with the near ones."""
    assert wood_of(shop, "Spanish-Cedar") == "spanish cedar"
    assert wood_of(shop, "hard maple") == "Sugar maple"
    assert wood_of(shop, "any") == ""
    with pytest.raises(ShopError, match="spanish cedar"):
        wood_of(shop, "spanish ceder")
    with open_store(shop.store_url) as store:
        made = analyse(study_of_text("2.50 2.52 2.51", "CAL-1"), species="spanish cedar")
        keep_study(store, made, Instrument("CAL-1"), "typed")
        known = with_study(Instrument("CAL-1", repeatability=0.005), store.events())
    (own,), other = say_studies(known, "mm"), say_other(known, "mm")
    assert own.startswith("CAL-1 repeats to 0.02 mm on spanish cedar and can prove ±0.10 mm there (study ")
    assert other.endswith("to 0.02 mm: the largest of its studies, that on spanish cedar.")


def test_numbers_of_a_light_and_a_firm_thumb_come_in_turn():
    """Place by place; one alone is missed."""
    made = analyse(study_of_text("2.90 2.86 2.92 2.89 2.88 2.84", "CAL-1", True), compliance=True)
    assert made.compliance.compression == pytest.approx(0.11 / 3)
    with pytest.raises(CannotSay, match="lacks"):
        analyse(study_of_text("2.90 2.86 2.92", "CAL-1", True), compliance=True)
