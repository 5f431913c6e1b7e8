"""What holds for every kind of characteristic, found by looping over the registry."""

import math
import re
from dataclasses import dataclass

import pytest

from qa.characteristics import kinds
from qa.characteristics.base import Value
from qa.conformity import Verdict
from qa.errors import CannotSay

FOUR = "stations = { bl = [0, 0], br = [60, 0], tl = [0, 90], tr = [60, 90] }"
SIZE = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.15\n{FOUR}'
SIZES = {"bl": 18.01, "br": 18.05, "tl": 18.12, "tr": 17.98}


@dataclass(frozen=True)
class Case:
    """A planned characteristic with readings, and the values worked out by hand (station to value)."""

    kind: str
    lines: str
    readings: dict[str, float]
    values: dict[str | None, float]
    cancels: bool = False
    of: str = ""
    id: str = ""


def size(kind):
    return Case(kind, "target = 18.0\ntolerance = 0.15\n" + FOUR, SIZES, dict(SIZES))


CASES = [
    *(size(kind) for kind in ("thickness", "width", "length", "height")),
    Case("taper", "limit = 0.1", SIZES, {None: 0.02}, cancels=True, of="size"),
    Case("twist", "limit = 0.1", SIZES, {None: 18.01 - 18.05 - 18.12 + 17.98}, cancels=True, of="size"),
    Case("flatness", f"limit = 0.08\n{FOUR}", {"bl": 0.1, "br": 0, "tl": 0, "tr": 0.1}, {None: 0.1}, True),
    Case(
        "flatness",
        'method = "feeler"\nlimit = 0.08\nstations = { along = [0, 0], across = [0, 1] }',
        {"along": 0.03, "across": -0.06},
        {None: 0.06},
        id="feeler",
    ),
    Case(
        "straightness",
        "limit = 0.08\nstations = { a = [0, 0], b = [0, 100], c = [0, 400] }",
        {"a": 0.0, "b": 0.05, "c": 0.04},
        {None: 0.04},
        cancels=True,
    ),
    Case("straightness", 'method = "feeler"\nlimit = 0.08', {"": 0.05}, {None: 0.05}, id="feeler"),
    Case("squareness", "blade_length = 75\nover = 60\nlimit = 0.15", {"": -0.10}, {None: -0.08}),
    Case(
        "squareness",
        'method = "diagonals"\nwidth = 300\nlength = 400\nover = 400\nlimit = 0.5',
        {"diagonal-1": 500.3, "diagonal-2": 499.7},
        # d1^2 - d2^2 = 600 = 4 w l sin(delta): delta = 0.00125 rad, 0.5 mm over 400
        {None: 400 * math.tan(math.asin(600 / 480_000))},
        cancels=False,
        id="diagonals",
    ),
    Case(
        "radius",
        "chord = 74\ntarget = 190\nfit_width = 78\nlimit = 0.1",
        {"": 200 - math.sqrt(200**2 - 37**2)},
        {"": (200 - math.sqrt(200**2 - 39**2)) - (190 - math.sqrt(190**2 - 39**2))},
    ),
    Case("offset", "limit = 0.2", {"left": 35.2, "right": 34.9}, {None: 0.15}, cancels=True),
    Case("gap", "limit = 0.1", {"": 0.06}, {"": 0.06}),
    Case(
        "bevel",
        "limit = 6\nwidth_of_face = 40\nflat_least = 30\nstations = { left = [0, 0], right = [40, 0] }",
        {"left": 4.5, "right": 5.0},
        {"left": 4.5, "right": 5.0, "flat": 30.5},
    ),
    Case("moisture", "target = 8\ntolerance = 1.5", {"": 9.1}, {"": 9.1}),
    Case(
        "area-thickness",
        f"target = 18.0\ntolerance = 0.15\nrange_limit = 0.2\nmean_tolerance = 0.1\n{FOUR}",
        SIZES,
        {**SIZES, "range": 0.14, "mean": 18.04},
    ),
]
each_case = pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind} {case.id}".strip())


def tables(case):
    """The tables of a plan for a case, the size a derived kind is of among them."""
    lines = f'kind = "{case.kind}"\n{case.lines}'
    return {"size": SIZE, "c": f'{lines}\nof = "size"'} if case.of else {"c": lines}


def evaluate(case, part, readings):
    """What the kind makes of readings."""
    characteristic = part.characteristics["c"]
    return kinds()[case.kind].evaluate(characteristic, part.stations(characteristic), readings)


def test_every_kind_has_a_case():
    """A kind without a row in the table above is not tested."""
    assert {case.kind for case in CASES} == set(kinds())


@pytest.mark.parametrize("kind", kinds().values(), ids=lambda kind: kind.name)
def test_every_kind_says_what_it_judges(kind):
    """The words `dryfit plan` shows are a phrase, not a sentence."""
    assert re.fullmatch(r"[a-z].*[a-z]", kind.says)


@each_case
def test_values_are_those_worked_out_by_hand(case, plan):
    """Every kind gives the value of its definition, at the stations it says."""
    found = {item.station: item.value for item in evaluate(case, plan(tables(case)), case.readings)}

    assert found == {station: pytest.approx(value, abs=1e-6) for station, value in case.values.items()}


@each_case
def test_sensitivities_are_the_derivatives(case, plan):
    """Every sensitivity is d value / d reading, found a second way by small steps."""
    part, step = plan(tables(case)), 1e-6
    for value in evaluate(case, part, case.readings):
        for name in case.readings:
            near = [
                next(
                    item.value
                    for item in evaluate(case, part, case.readings | {name: case.readings[name] + shift})
                    if item.station == value.station
                )
                for shift in (-step, step)
            ]

            assert value.sensitivities.get(name, 0.0) == pytest.approx(
                (near[1] - near[0]) / (2 * step), abs=1e-5
            )


@each_case
def test_differences_do_not_see_a_zero_offset(case, plan):
    """The sensitivities of a kind that compares readings sum to nothing; those of the others do not."""
    sums = [sum(item.sensitivities.values()) for item in evaluate(case, plan(tables(case)), case.readings)]

    assert (sums[0] == pytest.approx(0, abs=1e-9)) == case.cancels


@each_case
def test_a_part_not_read_is_not_measured(case, judge):
    """Without readings every value is there, with its limits, and not measured."""
    of_case = case.of or "c"
    read = judge(tables(case), {of_case: case.readings})
    unread = judge(tables(case), {})

    assert unread.keys() == read.keys()
    assert {item.verdict for item in unread.values()} == {Verdict.NOT_MEASURED}
    assert all(
        (item.lower, item.upper) == (unread[key].lower, unread[key].upper) for key, item in read.items()
    )


@each_case
def test_a_whole_reading_is_judged(case, judge):
    """With every reading each value is judged, as uncertain as the readings make it."""
    read = judge(tables(case), {case.of or "c": case.readings}, instrument=lambda station: "")

    judged = {station: item for (name, station), item in read.items() if name == "c"}
    assert {station: item.value for station, item in judged.items()} == {
        station or None: pytest.approx(value, abs=1e-6) for station, value in case.values.items()
    }
    assert all(item.standard_uncertainty > 0 and item.lower != item.upper for item in judged.values())


@each_case
@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_no_number_comes_of_a_reading_that_is_none(case, bad, plan):
    """A reading that is not finite gives no finite value to what depends on it."""
    part = plan(tables(case))
    name = next(iter(case.readings))
    try:
        found = evaluate(case, part, case.readings | {name: bad})
    except CannotSay:
        return

    touched = [v for v in found if isinstance(v, Value) and v.sensitivities.get(name)]
    assert not any(math.isfinite(value.value) for value in touched)
    assert not {"range", "mean", "flat"} & {value.station for value in found}


@each_case
@pytest.mark.parametrize("amount", ["0", "-0.1", '"wide"', "true"])
def test_a_limit_that_no_part_meets_is_a_problem(case, amount, problems):
    """A limit or tolerance of nothing, below zero or not a number is refused with its key."""
    planned = tables(case)
    key = re.search(r"^(limit|tolerance) = ", case.lines, re.MULTILINE)[1]
    planned["c"] = re.sub(rf"^{key} = .*$", f"{key} = {amount}", planned["c"], flags=re.MULTILINE)

    assert [line for line in problems(planned) if line.startswith(f"c.{key}: ")]


@each_case
def test_a_key_that_is_not_known_is_a_problem(case, problems):
    """A slip in a key is named, with the near one."""
    planned = tables(case)
    planned["c"] += "\nconfidense = 0.9"

    assert problems(planned) == ["c.confidense: is not a key of this table; did you mean 'confidence'?"]


NEEDED = ("limit", "blade_length", "over", "width", "length", "chord", "fit_width", "of", "flat_least")


@pytest.mark.parametrize(
    ("case", "key"),
    [
        pytest.param(case, key, id=f"{case.kind} {case.id} {key}")
        for case in CASES
        for key in NEEDED
        if re.search(rf"^{key} = ", tables(case)["c"], re.MULTILINE)
    ],
)
def test_a_key_left_out_is_a_problem(case, key, problems):
    """A needed key that is missing is named, or the key that is nothing without it."""
    planned = tables(case)
    planned["c"] = re.sub(rf"^{key} = .*$", "", planned["c"], flags=re.MULTILINE)

    partner = "c.width_of_face: needs both width_of_face and flat_least; give the other one too"
    assert (partner if key == "flat_least" else f"c.{key}: is missing") in problems(planned)
