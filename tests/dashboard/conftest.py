"""Invented shops, for every test of the dashboard."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.desk import Desk

spec = importlib.util.spec_from_file_location("invented_shop", Path(__file__).with_name("invented_shop.py"))
invented_shop = importlib.util.module_from_spec(spec)
spec.loader.exec_module(invented_shop)


@pytest.fixture(scope="session")
def shops():
    """The module that makes invented shops."""
    return invented_shop


@pytest.fixture(params=["empty", "full", "faulty", "full-inches"])
def any_desk(request, tmp_path) -> Iterator[Desk]:
    """A desk over each sort of shop."""
    make = {
        "empty": invented_shop.empty_shop,
        "full": invented_shop.full_shop,
        "faulty": invented_shop.faulty_shop,
        "full-inches": lambda folder: invented_shop.full_shop(folder, "in"),
    }
    desk = Desk(make[request.param](tmp_path / "shop"))
    yield desk
    desk.close()


@pytest.fixture
def full_desk(tmp_path) -> Iterator[Desk]:
    """A desk over a shop with seven builds."""
    desk = Desk(invented_shop.full_shop(tmp_path / "shop"))
    yield desk
    desk.close()
