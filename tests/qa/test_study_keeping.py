"""Studies typed or pasted, and kept for an instrument."""

import pytest

from qa.calipers.history import with_study
from qa.calipers.study import analyse
from qa.calipers.study_keeping import keep_study, study_of_text
from qa.errors import CannotSay, ShopError
from qa.instruments import Instrument
from qa.store.store import open_store


@pytest.mark.parametrize(
    "text", ["2.50 2.52 2.51", "2.50\n2.52\n2.51\n", "2,50; 2,52; 2,51", "2.50, 2.52, 2.51"]
)
def test_numbers_are_repeats_of_one_part(text):
    """However they are kept apart; the standard deviation of 2.50, 2.52, 2.51 is 0.01."""
    made = analyse(study_of_text(text, "CAL-1"))
    assert made.of("CAL-1").repeatability == pytest.approx(0.01)
    assert made.of("CAL-1").n == 3


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
