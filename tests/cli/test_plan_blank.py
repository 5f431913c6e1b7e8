"""`dryfit plan`: what is read, and how large the blank is cut."""

import pytest

BLANK = """
[parts.tail-block.blank.height]
finished = 62
dome_radius = 4572
dome_from = [190, 208]
trimming = 2
kerf = 1.2

[parts.tail-block.blank.width]
finished = 60
moves_from_rh = 65
"""


@pytest.fixture
def planned(folder):
    """The small shop's plan with more written at its end."""
    plan = folder / "plans" / "parlour-guitar.toml"

    def write(text):
        plan.write_text(plan.read_text(encoding="utf-8") + text, encoding="utf-8")

    return write


def test_blank_sizes_in_words(dryfit, planned):
    """The sum, what each allowance adds, and its formula."""
    planned(BLANK)
    said = dryfit("plan").out
    assert "blank height: cut to 64.78 mm = 62.00 mm finished + 0.78 mm dome + 2.00 mm trimming" in said
    assert "stock 65.98 mm: with 1.20 mm kerf (1 x 1.2 mm)" in said
    assert "dome: sqrt(R² - a²) - sqrt(R² - b²), R 4572, a 190, b 208 mm" in said
    assert "blank width: cut to 60.46 mm = 60.00 mm finished + 0.46 mm movement" in said


def test_blank_sizes_as_json(dryfit, planned):
    """The same in numbers."""
    planned(BLANK)
    parts = {part["part"]: part for part in dryfit("plan", "--json").json["plans"][0]["parts"]}
    height, width = parts["tail-block"]["blank"]
    assert (height["size"], height["finished"], height["unit"]) == ("height", 62.0, "mm")
    assert [item["name"] for item in height["allowances"]] == ["dome", "trimming", "kerf"]
    assert height["stock"] == pytest.approx(height["cut"] + 1.2)
    assert width["allowances"][0]["formula"].startswith("D / (1 + C (M2 - M1)) - D")
    assert parts["side"]["blank"] == []


def test_a_fault_is_named_with_its_line(refused, planned):
    """As every fault of a plan."""
    planned(BLANK.replace("trimming", "triming"))
    assert "did you mean 'trimming'?" in refused("plan")


def test_wood_without_figures(dryfit, folder, planned):
    """The plan stands; the blank cannot be told, and why is."""
    planned(BLANK)
    plan = folder / "plans" / "parlour-guitar.toml"
    plan.write_text(plan.read_text(encoding="utf-8").replace("spanish cedar", "dogwood"), encoding="utf-8")
    answer = dryfit("plan")
    assert answer.status == 0
    assert "blank: cannot be told: no movement figures for 'dogwood'" in answer.out


def test_what_is_read(dryfit, planned):
    """Of each characteristic whose reading is not the judged value itself."""
    planned(
        '[parts.tail-block.characteristics.curve]\nkind = "radius"\nchord = 74\ntarget = 190\n'
        "fit_width = 78\nlimit = 0.10\n"
    )
    said = dryfit("plan").out
    assert (
        "read for curve: sagitta over a 74.00 mm chord; 3.64 mm meets the mould, 3.55 mm to 3.73 mm is "
        "within limits"
    ) in said
    assert "read for squareness: feeler gap 75.00 mm from the corner" in said
    parts = dryfit("plan", "--json").json["plans"][0]["parts"]
    reads = {item["characteristic"]: item["reads"] for part in parts for item in part["characteristics"]}
    assert reads["thickness"] is None
    assert reads["curve"].startswith("sagitta")


def test_mates_are_told_in_words_and_as_json(dryfit, planned):
    """The gap, between which sizes."""
    lines = ("[parts.tail-block.mates.seat]", 'size = "thickness"', 'mate = "side.thickness"')
    planned("\n".join(["", *lines, "gap_lower = -20", "gap_upper = -10", ""]))
    assert "mate seat: the gap of thickness to side thickness is -20.00 mm to -10.00 mm" in dryfit("plan").out
    parts = {part["part"]: part for part in dryfit("plan", "--json").json["plans"][0]["parts"]}
    assert [item["gap_upper"] for item in parts["tail-block"]["mates"]] == [-10.0]
