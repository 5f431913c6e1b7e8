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
