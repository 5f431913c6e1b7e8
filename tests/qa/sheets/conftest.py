"""A builder's own sheet for the tests of this folder: written, read, and settled as far as it is certain."""

from dataclasses import replace

import pytest

from qa.logs.sheets.layout import Layout
from qa.logs.sheets.meaning import is_known
from qa.logs.sheets.names import plan_names
from qa.logs.sheets.settling import settle
from qa.logs.sheets.sheet import read_sheet
from tests.qa.sheets.common import SAME


@pytest.fixture
def names(plan):
    """The names of the small shop's plan."""
    return plan_names([plan])


@pytest.fixture
def sheet(tmp_path, names):
    """Writes a sheet as CSV and reads it."""

    def made(text, name="own.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_sheet(path, lambda word: is_known(word, names))

    return made


@pytest.fixture
def settled(names):
    """What is decided of a sheet, proposals taken, and the questions left by their key."""

    def of(read, **same):
        first = settle(read, Layout(same={**SAME, **same}), names, ("CAL-1", "CAL-2"))
        found = settle(read, first.proposed(names), names, ("CAL-1", "CAL-2"))
        found = replace(found, why={**first.why, **found.why})
        return found, {question.key: question for question in found.questions}

    return of
