"""A page's words for amounts are the command's."""

import pytest

from dashboard import words
from qa.bench import speech
from qa.cli.common import shown


@pytest.mark.parametrize(
    ("value", "unit", "shown_in", "told"),
    [(8.24, "%", "mm", "8.2 %"), (0.126, "deg", "mm", "0.13°"), (-18.0, "mm", "in", "−0.7087 in")],
)
def test_an_amount_is_one_text_everywhere(value, unit, shown_in, told):
    """On a page, at the bench and in the table of verdicts, but for the page's minus sign."""
    assert words.amount(value, unit, shown_in) == told
    said = [speech.amount(value, unit, shown_in), shown(value, unit, shown_in)]
    assert said == [told.replace("−", "-")] * 2


def test_names_of_a_plan_are_words_in_a_sentence_as_they_are_alone():
    """Whole names only, the longest first; what else has a hyphen keeps it."""
    names = ("top-left", "thickness", "tail-block", "top-left-edge")
    said = "thickness top-left is -0.05 mm: CAL-1, no reading at top-left-edge of tail-block; TG-top-left"
    assert words.spoken(said, names) == (
        "thickness top left is -0.05 mm: CAL-1, no reading at top left edge of tail block; TG-top-left"
    )
    assert words.spoken(said, ()) == said
