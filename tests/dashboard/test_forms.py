"""Numbers as they are typed into a form."""

from __future__ import annotations

import pytest

from dashboard.forms import as_amount, as_number
from qa.errors import ShopError


@pytest.mark.parametrize(
    ("typed", "value"),
    [(None, None), (" ", None), ("21,5", 21.5), (" 21.50 ", 21.5), ("-3", -3.0), ("\N{MINUS SIGN}3", -3.0)],
)
def test_a_number_is_read_with_a_comma_or_a_point(typed, value):
    """Blank is none."""
    assert as_number(typed, "Temperature") == value


@pytest.mark.parametrize("typed", ["warm", "1.234,5", "1e3", "nan", "inf", "21 5", "٣", "5,", "9" * 400])
def test_what_is_no_number_is_refused_by_name(typed):
    """Never read as another number."""
    with pytest.raises(ShopError, match=f"Temperature: cannot read '{typed}'"):
        as_number(typed, "Temperature")


def test_an_amount_is_not_below_zero():
    """Zero is one."""
    assert as_amount("0", "Clamps") == 0
    with pytest.raises(ShopError, match="Clamps: cannot be below zero, got -1"):
        as_amount("-1", "Clamps")
