"""`dryfit doctor`: 0 where all is well, 1 where something is to mend."""

from pathlib import Path


def test_well(dryfit) -> None:
    """A new shop is well, in words and as JSON."""
    answer = dryfit("doctor")
    assert answer.status == 0
    assert "All is well." in answer.out
    document = dryfit("doctor", "--json").json
    assert document["well"] is True
    assert {"about", "level", "says"} == set(document["findings"][0])


def test_something_to_mend(dryfit, folder: Path) -> None:
    """A broken plan: exit 1, marked and counted, with its place."""
    (folder / "plans" / "parlour-guitar.toml").write_text("model = 3\n", encoding="utf-8")
    answer = dryfit("doctor")
    assert answer.status == 1
    assert "✕ plans: parlour-guitar.toml" in answer.out
    assert dryfit("doctor", "--json").json["well"] is False


def test_no_shop(refused, tmp_path: Path) -> None:
    """A folder that is no shop is refused."""
    assert "holds no shop.toml" in refused("doctor", "--shop", tmp_path)
