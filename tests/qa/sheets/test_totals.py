"""Rows that look like a total, at the foot of a builder's sheet or within: never readings, nor lost."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import ShopError
from qa.logs.loading import load
from qa.logs.sheets.layout import Layout
from qa.logs.sheets.meaning import is_known
from qa.logs.sheets.rows import OwnSheet
from qa.logs.sheets.settling import settle
from qa.logs.sheets.sheet import read_sheet
from qa.logs.sheets.total_words import is_total
from tests.qa.sheets.common import SAME, rows_of

HEADER = "guitar,piece,date,waist,moisture,by\n"
BODY = "A,side,2025-03-01,1.9,8.1,me\nB,side,2025-03-02,1.91,8.2,me\n"
READINGS = [("A", "1.9"), ("A", "8.1"), ("B", "1.91"), ("B", "8.2")]
ASKED = "in row 4 looks like a total, a mean or a limit, not a reading: leave it, or read it"


def values_of(own):
    """Build and value of every reading, and what is told of the other rows."""
    rows, malformed = rows_of(own)
    return [(row[1], row[5]) for row in rows], malformed


@pytest.mark.parametrize(
    "name",
    ["Total", "MEAN:", "Sub-total", "Grand total", "Std. dev.", "average of 12", "Mean (mm)", "Max.",
     "upper limit", "Target", "Ø", "Σ", "sum = 12", "mean values", "Tolerance"],
)  # fmt: skip
def test_what_a_total_is_called(name):
    """Whatever its case, stops and what follows of it."""
    assert is_total(name)


@pytest.mark.parametrize(
    "name", ["", "PG-01", "Meaning", "Total Eclipse", "Max Muster", "Sumatra", "Minor", "side", "1.9", "12"]
)
def test_what_is_not_called_a_total(name):
    """A build or a person whose name only begins like one."""
    assert not is_total(name)


@pytest.mark.parametrize(
    "total", ["Mean,,,1.905,8.15,\n", "Total,,,3.81,16.3,\n", "Mean,side,2025-03-02,1.9,,\n"]
)
def test_a_row_called_a_total_is_asked(sheet, settled, names, total):
    """It has no say in what is certain of the readings; left it is gone, and undecided it is refused."""
    read = sheet(HEADER + BODY + total)
    found, questions = settled(read)
    (key, question), *others = questions.items()
    assert (key[0], question.why, question.proposal, others) == ("names", ASKED, "", [])
    assert found.layout.same["unit"] == "mm"
    values, malformed = values_of(OwnSheet(read, found.layout, names))
    assert values == READINGS
    assert [line.split(":")[0] for line in malformed] == [f"own.csv, row 4, guitar '{key[1]}'"]
    assert malformed[0].endswith(f"leave it out with --name {key[1]}=leave")
    left = settle(read, found.layout.with_(*key, "leave", names), names)
    assert left.questions == ()
    assert values_of(OwnSheet(read, left.layout, names)) == (READINGS, [])


def test_a_build_that_is_called_like_a_total_is_read(sheet, settled, names):
    """Where it is said; of other names there is no need to."""
    read = sheet("guitar,waist\nA,1.9\nMean,1.91\n")
    found, questions = settled(read, taken_at="2025-03-01")
    assert list(questions) == [("names", "Mean")]
    layout = found.layout.with_("names", "Mean", "read", names)
    assert settle(read, layout, names).questions == ()
    assert values_of(OwnSheet(read, layout, names)) == ([("A", "1.9"), ("Mean", "1.91")], [])
    at_foot = sheet(HEADER + BODY + "Mean,,,1.9,,\n")
    assert values_of(
        OwnSheet(at_foot, settled(at_foot)[0].layout.with_("names", "Mean", "read", names), names)
    ) == (
        [*READINGS, ("Mean", "1.9")],
        [],
    )
    with pytest.raises(ShopError, match="'PG-01' does not look like a total: its rows are read"):
        layout.with_("names", "PG-01", "read", names)
    with pytest.raises(ShopError, match="a name of the sheet is missing"):  # else blank cells were left out
        layout.with_("names", " ", "leave", names)
    with pytest.raises(ShopError, match="say leave to leave its rows out, or read to read them"):
        layout.with_("names", "Mean", "yes", names)


@pytest.mark.parametrize(
    "text",
    [
        "waist,moisture,guitar\n1.9,8.1,A\n1.905,8.15,Mean\n",
        "no,guitar,waist\n1,A,1.9\n2,Mean,1.91\n",
        "piece,guitar,waist\nside,A,1.9\nside,Mean,1.91\n",
        "waist,by\n1.9,me\n1.91,Mean\n",
    ],
)
def test_a_total_is_known_wherever_its_name_stands(sheet, settled, text):
    """As the build, or as the first cell that is no reading."""
    _, questions = settled(sheet(text), taken_at="2025-03-01", build="A", part="side")
    assert [key for key in questions if key[0] == "names"] == [("names", "Mean")]


def test_a_total_beside_the_readings_of_one_build(sheet, settled, names):
    """In a column that is left, above the readings or below; a name of the plan is asked as any other."""
    read = sheet("no,waist,tip\nTarget,1.9,1.9\n1,1.9,1.91\nAverage,1.9,1.905\n")
    given = Layout(same={**SAME, "build": "A", "taken_at": "2025-03-01", "unit": "mm"})
    for column, words in (("no", "leave"), ("waist", "waist"), ("tip", "leave")):
        given = given.with_("columns", column, words, names)
    found = settle(read, given, names)
    assert [question.key[1] for question in found.questions] == ["Target", "Average"]
    read = sheet("piece,guitar,date,waist\nside,A,2025-03-01,1.9\nMean,,,1.9\n")
    found, questions = settled(read)
    assert questions["names", "Mean"].choices == ("tail-block", "side", "leave")


AT_FOOT = "looks like a total at the foot of the sheet, without"
MEND = "write them there, or delete it"


@pytest.mark.parametrize(
    ("foot", "told", "name"),
    [
        (",,,1.905,8.15,\n", f"row 4: {AT_FOOT} guitar, piece and date: {MEND}", ""),
        ("Mittel,,,1.9,8.15,\n", f"row 4, guitar 'Mittel': {AT_FOOT} piece and date: {MEND}", "Mittel=leave"),
        (
            ",,,,,\n,,,,,mean\nMy mean,,,1.9,,\n",
            f"row 6, guitar 'My mean': {AT_FOOT} piece and date: {MEND}",
            "'My mean=leave'",
        ),
        ("Signed: me,,,,,\n", "", ""),
        (",,,,,checked by me\n\n", "", ""),
        (",,,Signed,,\n", f"row 4: {AT_FOOT} guitar, piece and date: {MEND}", ""),
    ],
)
def test_the_foot_of_a_sheet(sheet, settled, names, foot, told, name):
    """A row with numbers and nothing of what they are of is refused, with ways to mend it; words are not."""
    read = sheet(HEADER + BODY + foot)
    found, questions = settled(read)
    leave = f", or leave it out with --name {name}" if name else ""
    lines = [f"own.csv, {told}{leave}"] if told else []
    assert questions == {}
    assert values_of(OwnSheet(read, found.layout, names)) == (READINGS, lines)


def test_a_foot_is_left_by_its_name_and_only_there(sheet, settled, names):
    """A build of that name whose row says what it is of is read."""
    read = sheet(HEADER + BODY.replace("A,", "Mittel,") + "Mittel,,,1.905,8.15,\n")
    layout = settled(read)[0].layout.with_("names", "Mittel", "leave", names)
    values, malformed = values_of(OwnSheet(read, layout, names))
    assert values == [("Mittel", "1.9"), ("Mittel", "8.1"), ("B", "1.91"), ("B", "8.2")]
    assert malformed == []


def test_no_foot_where_no_row_says_what_it_is_of(sheet, settled, names):
    """Then the cells that are missing are named one by one, and a part the plan has is no name of a total."""
    for text in (
        "piece,guitar,date,waist\n,,,1.9\n",
        "piece,guitar,date,waist\nside,A,2025-03-01,1.9\nside,,,1.9\n",
    ):
        read = sheet(text)
        found, _ = settled(read)
        rows, malformed = rows_of(OwnSheet(read, found.layout, names))
        assert (rows[-1][1], malformed) == ("", [])


def test_a_signature_below_one_column_of_readings(sheet, settled, names):
    """There a blank cell is a reading that is missing, but not beside a signature."""
    head = "guitar,piece,date,what,where,reading\nA,side,2025-03-01,thickness,waist,1.9\n"
    read = sheet(head + ",,,,,\nSigned: me,,,,,\n")
    found, _ = settled(read, unit="mm")
    assert values_of(OwnSheet(read, found.layout, names)) == ([("A", "1.9")], [])
    read = sheet(head + "B,side,,,,\n")
    assert values_of(OwnSheet(read, settled(read, unit="mm")[0].layout, names))[0] == [
        ("A", "1.9"),
        ("B", ""),
    ]


def test_the_good_rows_above_a_total(sheet, settled, names, shop, sqlite_store):
    """All or nothing as ever; the good rows are loaded and the total written beside them where asked."""
    read = sheet(HEADER + BODY + ",,,1.905,8.15,\n")
    own = OwnSheet(read, settled(read)[0].layout, names)
    result = load([own], shop, sqlite_store)
    assert (result.loaded, result.rejected, sqlite_store.readings()) == (0, 1, [])
    result = load([own], shop, sqlite_store, partial=True)
    assert (result.loaded, result.rejected) == (4, 1)
    assert ",,,1.905,8.15," in read.path.with_name("own.rejected.csv").read_text().replace(", ", ",")


NUMBER = st.integers(1_800, 2_000).map(lambda thousandths: f"{thousandths / 1000:.3f}")
FOOT = st.sampled_from(["Mean", "Total", "Std dev", "Mittel", "Summe", "", None, "Signed: me"])


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(NUMBER, st.one_of(st.just(""), NUMBER)), min_size=1, max_size=5),
    st.lists(st.tuples(FOOT, NUMBER), max_size=4),
    st.permutations(["guitar", "piece", "date", "waist", "moisture", "by"]),
    st.booleans(),
    st.booleans(),
)
def test_no_reading_is_lost_or_made_whatever_the_foot(tmp_path, names, body, foot, order, leave, dated):
    """Every reading of the body comes back; of the foot each row with a number is left by name or told."""
    columns = order if dated else [column for column in order if column != "date"]
    rows = [
        {
            "guitar": f"PG-{n}",
            "piece": "side",
            "date": f"2025-03-{n + 1:02}",
            "waist": waist,
            "moisture": damp,
        }
        for n, (waist, damp) in enumerate(body)
    ]
    for name, number in foot:
        number = "" if name in (None, "Signed: me") else number
        rows.append({"guitar": name or "", "waist": number, "moisture": number})
    path = tmp_path / "foot.csv"
    lines = [",".join(row.get(column, "") for column in columns) for row in rows]
    path.write_text("\n".join([",".join(columns), *lines, ""]))
    read = read_sheet(path, lambda word: is_known(word, names))
    layout = Layout(same={**SAME, "unit": "mm", **({} if dated else {"taken_at": "2025-03-01"})})
    layout = layout.with_("columns", "by", "leave", names)
    said = {name for name, _ in foot if name and name != "Signed: me"} if leave else set()
    for name in said:
        layout = layout.with_("names", name, "leave", names)
    found = settle(read, settle(read, layout, names).proposed(names), names)
    assert {question.key for question in found.questions} == {
        ("names", name) for name, _ in foot if name and is_total(name) and not leave
    }
    values, malformed = values_of(OwnSheet(read, found.layout, names))
    assert sorted(values) == sorted(
        (row["guitar"], row[column])
        for row in rows[: len(body)]
        for column in ("waist", "moisture")
        if row[column]
    )
    refused = [
        number
        for number, (name, _) in enumerate(foot, len(body) + 2)
        if name is not None and name != "Signed: me" and name not in said
    ]
    assert [int(line.split("row ")[1].split(",")[0].split(":")[0]) for line in malformed] == refused
