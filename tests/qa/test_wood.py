"""Moisture from the room, and movement from moisture."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.errors import CannotSay
from qa.wood import (
    Species,
    coefficient,
    coefficient_from_shrinkage,
    equilibrium_moisture,
    load_species,
    movement,
    movement_by_shrinkage,
    rh_window,
    size_at,
    species,
    species_names,
)

humidities = st.floats(1, 99)
temperatures = st.floats(-1, 60)
moistures = st.floats(6, 14)


@given(humidities, humidities, temperatures)
def test_damper_air_means_damper_wood(one, two, temp):
    """Moisture rises with humidity, and stays below fibre saturation and above nothing."""
    low, high = sorted((one, two))
    assert 0 < equilibrium_moisture(low, temp) <= equilibrium_moisture(high, temp) < 31


@given(humidities)
def test_warmer_air_means_drier_wood(rh):
    """At one humidity, moisture falls from 20 to 60 degrees."""
    assert equilibrium_moisture(rh, 60) < equilibrium_moisture(rh, 20)


@given(st.floats(1, 500), st.floats(0.0005, 0.004), moistures, moistures)
def test_movement_there_and_back_is_nothing(size, c, before, after):
    """Linear in the change of moisture: signed, reversible, proportional to size."""
    there = movement(size, c, before, after)
    assert there == pytest.approx(-movement(size, c, after, before), abs=1e-12)
    assert movement(2 * size, c, before, after) == pytest.approx(2 * there, abs=1e-12)
    assert there == 0 or (there > 0) == (after > before)


@given(st.floats(2, 12))
def test_both_movement_equations_agree_about_ten_per_cent(shrinkage):
    """The coefficient is the shrinkage equation's slope at 10 % moisture."""
    c = coefficient_from_shrinkage(shrinkage)
    assert movement_by_shrinkage(100, shrinkage, 10, 10.5) == pytest.approx(movement(100, c, 10, 10.5))


def test_shrinkage_equation_spans_green_to_ovendry():
    """From green (above fibre saturation) to nothing: the total shrinkage itself."""
    assert movement_by_shrinkage(100, 7.8, 60, 0) == pytest.approx(-7.8)
    assert movement_by_shrinkage(100, 7.8, 45, 35) == 0


@pytest.mark.parametrize("name", ["spanish cedar", "Spanish-cedar", "SPANISH  CEDAR", "spanishcedar"])
def test_species_are_found_whatever_their_hyphens(name):
    """Case, hyphens and spaces do not matter."""
    found = species(name)
    assert (found.name, found.radial, found.tangential) == ("Spanish-cedar", 0.00141, 0.00219)


@pytest.mark.parametrize(
    ("name", "near"), [("walnutt", "Black walnut"), ("maple", "Sugar maple"), ("spruce", "Sitka spruce")]
)
def test_an_unknown_species_names_its_neighbours(name, near):
    """A slip or a bare genus is answered with the names there are."""
    with pytest.raises(CannotSay, match=near):
        species(name)


def test_an_unknown_species_without_neighbours_says_what_to_do():
    """No figures confirmed for ebony: the shop may add its own."""
    with pytest.raises(CannotSay, match="add it to the shop's species"):
        species("ebony")


def test_every_species_is_whole():
    """Names unique and findable, a source each, radial below tangential as in all these woods."""
    names = species_names()
    assert len(names) == len(set(names)) >= 29
    for name in names:
        wood = species(name)
        assert wood.source
        assert 0 < wood.radial < wood.tangential < 0.005


def test_rosewoods_are_marked_as_derived():
    """What no table of coefficients gives is said to be derived."""
    derived = {name for name in species_names() if species(name).derived}
    assert derived == {"Brazilian rosewood", "Indian rosewood"}
    assert "derived" in species("indian rosewood").source


def test_a_shop_adds_species_of_its_own(tmp_path):
    """From a mapping or a file, beside the shipped ones or in place of them."""
    extra = {"koa": {"name": "Koa", "radial": 0.0016, "tangential": 0.0024, "source": "own trial, 2024"}}
    known = load_species(extra)
    assert species("KOA", known) == Species("Koa", 0.0016, 0.0024, "own trial, 2024")
    assert species("sitka spruce", known) == species("sitka spruce")
    path = tmp_path / "species.toml"
    path.write_text('[teak]\nradial = 0.00102\ntangential = 0.0019\nsource = "own"\n', encoding="utf-8")
    assert species("teak", load_species(path)).radial == 0.00102
    assert species("teak").radial == 0.00101


@pytest.mark.parametrize(
    "table",
    [
        {"radial": 0.001},
        {"radial": 0.001, "tangential": -0.002},
        {"radial": 0.001, "tangential": 0.24},
        {"radial": "much", "tangential": 0.002},
        "koa",
    ],
)
def test_bad_figures_are_refused_by_species(table):
    """Missing, negative, in per cent instead of per 1 %, or words."""
    with pytest.raises(CannotSay, match="koa"):
        load_species({"koa": table})


def test_unreadable_species_files_are_refused(tmp_path):
    """A file that is missing or no TOML is named."""
    path = tmp_path / "mine.toml"
    with pytest.raises(CannotSay, match=r"mine\.toml"):
        load_species(path)
    path.write_text("radial = ", encoding="utf-8")
    with pytest.raises(CannotSay, match=r"mine\.toml"):
        load_species(path)


def test_coefficients_by_grain_direction():
    """Radial, tangential, and next to nothing along the grain."""
    assert coefficient("black walnut", "tangential") == 0.00274
    assert coefficient(species("black walnut"), "radial") == 0.00190
    along = coefficient("black walnut", "longitudinal")
    assert 0 < along < 0.00191 / 30
    assert coefficient_from_shrinkage(0.1) < along < coefficient_from_shrinkage(0.2)


def test_a_cherry_block_through_the_year():
    """76 mm flat-sawn from 45 % RH: +0.40 mm at 58 %, -0.29 mm at 35 %."""
    c = coefficient("cherry", "tangential")
    assert size_at(76, c, 45, 58) - 76 == pytest.approx(0.40, abs=0.01)
    assert size_at(76, c, 45, 35) - 76 == pytest.approx(-0.29, abs=0.01)


@settings(deadline=None)
@given(st.floats(20, 300), st.floats(0.0005, 0.004), st.floats(0.05, 1), st.floats(30, 72))
def test_a_part_is_in_tolerance_at_both_ends_of_its_window(size, c, slack, rh):
    """At each end it is on the limit, or still inside where the window ends for want of figures."""
    low, high = rh_window(size, c, size - slack, size + slack, rh)
    assert low < rh < high
    for end in (low, high):
        assert abs(size_at(size, c, rh, end) - size) <= slack + 1e-6
    if equilibrium_moisture(low, 21) > 6.001:
        assert size_at(size, c, rh, low) == pytest.approx(size - slack, abs=1e-6)
    if equilibrium_moisture(high, 21) < 13.999:
        assert size_at(size, c, rh, high) == pytest.approx(size + slack, abs=1e-6)


def test_a_part_that_needs_damper_or_drier_air():
    """Too small now: the window lies above; too small for any air: there is none."""
    low, high = rh_window(76, 0.00248, 76.2, 77, 45)
    assert 45 < low < high
    assert rh_window(76, 0.00248, 79, 80, 45) is None
    assert rh_window(76, 0.00248, 70, 72, 45) is None


def test_wood_that_does_not_move_fits_always_or_never():
    """A coefficient of nothing."""
    low, high = rh_window(76, 0.0, 75.9, 76.1, 45)
    assert (round(low), round(high)) == (29, 74)
    assert rh_window(76, 0.0, 77, 78, 45) is None
    assert rh_window(76, 0.00248, None, 76.3, 45)[0] == low


@pytest.mark.parametrize(
    "ask",
    [
        *(lambda rh=rh: equilibrium_moisture(rh, 21) for rh in (0, 100, 105, -5, math.nan, math.inf)),
        *(lambda t=t: equilibrium_moisture(45, t) for t in (-5, 140, math.nan)),
        lambda: movement(math.nan, 0.002, 8, 11),
        lambda: movement(0, 0.002, 8, 11),
        lambda: movement(76, -0.002, 8, 11),
        lambda: movement(76, 0.002, -1, 11),
        lambda: movement(76, 0.002, 8, 40),
        lambda: movement_by_shrinkage(76, 0, 8, 11),
        lambda: movement_by_shrinkage(76, 7, math.inf, 11),
        lambda: coefficient("teak", "sideways"),
        lambda: species(""),
        lambda: rh_window(76, 0.002, 77, 75, 45),
        lambda: rh_window(76, 0.002, 75, math.nan, 45),
        lambda: rh_window(76, 0.002, 75, 77, 100),
        lambda: size_at(76, 0.002, 45, 0),
    ],
)
def test_what_wood_cannot_do_is_refused(ask):
    """Humidity of nothing or all, temperatures beyond the table, negative or absurd moisture."""
    with pytest.raises(CannotSay):
        ask()
