"""The face of a part drawn to scale: places, names, marks, and what a reader of the page is told."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.conformity import Verdict
from qa.paper.drawing import face_svg, shape, spots
from qa.paper.drawing_labels import LETTERING, text_width
from qa.paper.drawing_layout import layout
from qa.plans.plan import Part, Plan, read_plan

SVG = "{http://www.w3.org/2000/svg}"


def part_with(stations: dict[str, tuple[float, float]], title: str = "A part") -> Part:
    """A part whose thickness is read at those stations."""
    table = ", ".join(f'"{name}" = [{x}, {y}]' for name, (x, y) in stations.items())
    return read_plan(
        f'model = "m"\n[parts.p]\ntitle = "{title}"\n[parts.p.characteristics.thickness]\n'
        f'kind = "thickness"\ntarget = 3\ntolerance = 0.1\nstations = {{ {table} }}\n',
        "m.toml",
    ).parts["p"]


def parsed(svg: str) -> ElementTree.Element:
    """The drawing as a tree, so that it is known to be well formed."""
    return ElementTree.fromstring(svg)  # noqa: S314 - of our own making


def marks(svg: str) -> list[ElementTree.Element]:
    """The groups that draw a station."""
    return parsed(svg).findall(f"{SVG}g[@class='station']")


def test_places_are_to_scale(plan: Plan) -> None:
    """Twice as far on the part is twice as far on paper, upwards on the page for growing y."""
    laid = layout(spots(plan.parts["tail-block"]), frozenset(), 480, 360)
    (left, bottom), (right, _), (_, top), _ = laid.points
    assert (right - left) / 60 == pytest.approx((bottom - top) / 90)
    assert top < bottom


def test_dimension_lines_in_the_unit_of_the_shop(plan: Plan) -> None:
    """The distances between the outermost stations stand in millimetres or inches."""
    block = plan.parts["tail-block"]
    assert ">60 mm<" in face_svg(block)
    assert ">90 mm<" in face_svg(block)
    assert ">2.362 in<" in face_svg(block, "in")


def test_verdicts_by_shape_and_word(plan: Plan) -> None:
    """Each verdict has its own shape and says its word; a place without one is not measured."""
    shapes = {re.sub(r'class="[^"]*"', "", shape(verdict, 0, 0)) for verdict in [*Verdict, None]}
    assert len(shapes) == 5
    given = {"top-left": Verdict.UNDECIDED, "thickness/bottom-left": Verdict.CONFORMS}
    titles = {
        group.findtext(f"{SVG}title") for group in marks(face_svg(plan.parts["tail-block"], verdicts=given))
    }
    assert "3 thickness top-left: undecided" in titles
    assert "1 thickness bottom-left: conforms" in titles
    assert "2 thickness bottom-right: not measured" in titles


def test_the_worst_verdict_marks_a_shared_place() -> None:
    """Where two characteristics are read at one place, the worse verdict is drawn."""
    part = read_plan(
        'model = "m"\n[parts.p.characteristics.thickness]\nkind = "thickness"\ntarget = 3\ntolerance = 0.1\n'
        'stations = { a = [0, 0], b = [9, 0] }\n[parts.p.characteristics.width]\nkind = "width"\ntarget = 3\n'
        "tolerance = 0.1\nstations = { a = [0, 0] }\n",
        "m.toml",
    ).parts["p"]
    told = {
        "thickness/a": Verdict.CONFORMS,
        "width/a": Verdict.DOES_NOT_CONFORM,
        "thickness/b": Verdict.CONFORMS,
    }
    svg = face_svg(part, verdicts=told)
    assert svg.count('class="verdict does-not-conform"') == 1
    assert svg.count('class="verdict conforms"') == 1


def test_the_next_station_is_ringed_and_said(plan: Plan) -> None:
    """The next station has a ring and says so; no other has. So has what is read once, beneath the face."""
    third = "3 thickness top-left"
    for name, said in (("top-left", third), ("thickness/top-left", third), ("squareness/", "squareness")):
        ringed = [
            g
            for g in marks(face_svg(plan.parts["tail-block"], highlight=name))
            if g.find(f"{SVG}circle[@class='next']") is not None
        ]
        assert [g.findtext(f"{SVG}title") for g in ringed] == [f"{said}, the next to read"]


def test_names_of_any_script_and_sign_are_escaped() -> None:
    """Names with markup in them or of any script are drawn as they are written."""
    names = ["<b>&x", "верх", "أعلى اليسار", "左上", "क्षेत्र"]
    part = part_with({name: (i * 40.0, 0.0) for i, name in enumerate(names)}, title="<script>")
    root = parsed(face_svg(part))
    drawn = {element.text for element in root.iter(f"{SVG}text")}
    assert set(names) <= drawn
    assert root.findtext(f"{SVG}title") == "<script>"


def test_sixty_stations_carry_numbers() -> None:
    """Sixty places with long names are numbered, each inside the drawing, each title with the whole name."""
    part = part_with({f"a-rather-long-name-{i}": (i % 6 * 40.0, i // 6 * 33.0) for i in range(60)})
    groups = marks(face_svg(part, highlight="a-rather-long-name-7"))
    texts = [group.findtext(f"{SVG}text") for group in groups]
    assert texts[:3] == ["1", "2", "3"]
    assert texts[7] == "a-rather-long-name-7"
    assert groups[59].findtext(f"{SVG}title") == "60 thickness a-rather-long-name-59"


def test_what_is_read_once_stands_beneath_the_face(plan: Plan) -> None:
    """A characteristic without a named station has no place on the face, and its mark all the same."""
    svg = face_svg(plan.parts["tail-block"], verdicts={"squareness/": Verdict.CONFORMS})
    assert "squareness: conforms" in svg
    only = read_plan(
        'model = "m"\n[parts.p.characteristics.moisture]\nkind = "moisture"\ntarget = 8\ntolerance = 1\n',
        "m.toml",
    ).parts["p"]
    assert ">moisture<" in face_svg(only)
    assert "dimension" not in face_svg(only)


def test_one_characteristic_alone_draws_its_stations(plan: Plan) -> None:
    """A derived characteristic is drawn where its size is read; an unknown one is a KeyError."""
    block = plan.parts["tail-block"]
    assert len(marks(face_svg(block, characteristic="taper"))) == 4
    with pytest.raises(KeyError):
        face_svg(block, characteristic="colour")


@given(
    st.lists(
        st.tuples(st.integers(-2000, 2000), st.integers(-2000, 2000)),
        min_size=1,
        max_size=12,
        unique=True,
    )
)
def test_every_mark_is_inside_the_drawing(places: list[tuple[int, int]]) -> None:
    """However the stations lie (one, on one line, far apart), every mark is within the view box."""
    part = part_with({f"s{i}": place for i, place in enumerate(places)})
    root = parsed(face_svg(part))
    left, top, wide, high = map(float, root.attrib["viewBox"].split())
    for circle in root.iter(f"{SVG}circle"):
        assert left <= float(circle.attrib["cx"]) <= left + wide
        assert top <= float(circle.attrib["cy"]) <= top + high


def test_labels_of_named_places_keep_apart(plan: Plan) -> None:
    """Where the places carry their names, no two names overlap."""
    laid = layout(spots(plan.parts["tail-block"]), frozenset({0}), 480, 360)
    assert not laid.numbered
    edges = sorted((label.y, label.x, label.anchor, label.text) for label in laid.labels)
    lower = [e for e in edges if "bottom" in e[3]]
    starts, ends = (e for e in lower)
    reach = text_width(starts[3], LETTERING * 1.35)
    assert abs(starts[1] - ends[1]) > reach
