"""`dryfit wood`: the calculators."""

import pytest


def test_equilibrium_moisture(dryfit):
    """USDA Wood Handbook table 4-2 at 65 % and 70 °F (21.1 °C): 12.0 %."""
    assert dryfit("wood", "emc", "--rh", 65, "--temp", 21).out == (
        "12.0 % moisture content at 65 % RH and 21 °C, give or take 1 %\n"
    )
    document = dryfit("wood", "emc", "--rh", 65, "--temp", 21.1, "--json").json
    assert document["equilibrium_moisture_percent"] == pytest.approx(12.0, abs=0.05)


def test_movement(dryfit):
    """Table 13-5: black walnut, tangential, 0.00274 per 1 %."""
    arguments = [
        "--species",
        "walnut",
        "--direction",
        "tangential",
        "--size",
        70,
        "--from-rh",
        65,
        "--to-rh",
        45,
    ]
    document = dryfit("wood", "movement", *arguments, "--json").json
    assert (document["species"], document["coefficient"]) == ("Black walnut", 0.00274)
    change = document["to_moisture_percent"] - document["from_moisture_percent"]
    assert document["movement"] == pytest.approx(70 * 0.00274 * change, abs=1e-5)
    assert document["size_after"] == pytest.approx(70 + document["movement"])
    assert dryfit("wood", "movement", *arguments).out == (
        "Black walnut, tangential: 70 mm moves -0.67 mm to 69.33 mm (12.0 to 8.5 % moisture content; 0.00274 "
        "per 1 %: USDA Wood Handbook FPL-GTR-190, table 13-5)\n"
    )


def test_the_shops_own_species(dryfit, folder):
    """species.toml beside shop.toml is known to the calculator, with its source."""
    (folder / "species.toml").write_text(
        '[plum]\nradial = 0.001\ntangential = 0.002\nsource = "a shrinkage table"\n', encoding="utf-8"
    )
    arguments = ["--species", "plum", "--direction", "radial", "--size", 50, "--from-rh", 60, "--to-rh", 45]
    document = dryfit("wood", "movement", *arguments, "--json").json
    assert (document["coefficient"], document["source"]) == (0.001, "a shrinkage table")


def test_without_a_shop(dryfit, tmp_path, monkeypatch):
    """The calculators need none."""
    monkeypatch.delenv("DRYFIT_SHOP")
    monkeypatch.chdir(tmp_path)
    assert dryfit("wood", "emc", "--rh", 45).status == 0
    teak = ["--species", "teak", "--direction", "radial", "--size", 1, "--from-rh", 40, "--to-rh", 50]
    assert dryfit("wood", "movement", *teak).status == 0


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"--species": "walnutt"}, "did you mean Black walnut"),
        ({"--direction": "across"}, "no direction is called 'across'"),
        ({"--size": -1}, "size"),
        ({"--from-rh": 100}, "below 100"),
        ({"--temp": 200}, "temperature"),
    ],
)
def test_what_cannot_be_said(refused, changed, why):
    """One clear line, exit 2."""
    given = {"--species": "walnut", "--direction": "radial", "--size": 70, "--from-rh": 65, "--to-rh": 45}
    words = [item for pair in (given | changed).items() for item in pair]
    assert why in refused("wood", "movement", *words)
