"""Plans: a part as it is drawn, what it is held to, and where to change that."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import plan_edit_at, plan_new_at
from dashboard.desk import Desk
from dashboard.forms import choice
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, moved, mover
from dashboard.words import counted, plain, unbroken
from qa.errors import ShopError
from qa.plans.plan import unknown

if TYPE_CHECKING:
    from qa.characteristics.base import Characteristic
    from qa.plans.plan import Part, Plan
    from qa.shop import Shop

DRAWN = 620.0, 420.0


def content(desk: Desk, query: Query) -> Component:
    """The part that the address names, the first of the first plan where it names none."""
    shop = desk.shop(query.get("unit"))
    if not shop.plans:
        return html.Div([html.H1("Plans"), _none(shop)])
    plan, part = asked_of(shop, query)
    return html.Div(
        [
            html.H1(part.title),
            html.P(_in_short(desk, shop, plan), className="lead where"),
            html.Div([*_choices(shop, plan, part), mover()], className="choice"),
            html.Div(
                [
                    drawing(part, shop.unit),
                    html.Div([_facts(plan, part), _edit(plan, part)], className="beside-drawing"),
                ],
                className="drawn",
            ),
            html.H2("Characteristics"),
            _table(part, shop.unit),
            *_mates(shop, plan, part),
            *_blanks(shop, plan, part),
            *_traps(plan),
        ]
    )


def _none(shop: Shop) -> Component:
    return html.Div(
        [
            html.P(f"{shop.name} has no plan yet.", className="lead"),
            html.P("Start with an example and make it yours, or write one into the folder plans."),
            html.P(dcc.Link("New plan", href=plan_new_at(), className="do"), className="way-on"),
        ],
        className="notice",
    )


def asked_of(shop: Shop, query: Query) -> tuple[Plan, Part]:
    """The revision and the part an address names, the newest and the first where it does not; ShopError."""
    model = shop.model(query.get("model") or next(iter(shop.plans)))
    revisions = {plan.name: plan for plan in shop.plans[model]}
    named = query.get("revision") or shop.plan(model).name
    if named not in revisions:
        raise ShopError(unknown(f"revision of {model}", named, revisions))
    plan = revisions[named]
    part = query.get("part") or next(iter(plan.parts))
    if part not in plan.parts:
        raise ShopError(unknown(f"part of {model}", part, plan.parts))
    return plan, plan.parts[part]


def held_from(plan: Plan) -> str:
    """From when a revision holds."""
    return f"for builds begun from {plan.since}" if plan.since else "from the beginning"


def _in_short(desk: Desk, shop: Shop, plan: Plan) -> str:
    from qa.plans.files import judged_by

    judged = counted(len(judged_by(shop, desk.store(), plan)), "build", "builds")
    named = f"{unbroken(plan.name)}, {unbroken(held_from(plan))}"
    return f"{plain(plan.model).capitalize()}. Plan {named}: {judged} judged by it."


def _choices(shop: Shop, plan: Plan, part: Part) -> list[Component]:
    models = {model: plain(model) for model in shop.plans}
    days = {
        item.name: f"from {item.since}" if item.since else "from the beginning"
        for item in shop.plans[plan.model]
    }
    revisions = {name: f"{day}: {name}" for name, day in reversed(days.items())}
    parts = {name: item.title for name, item in plan.parts.items()}
    found = [choice("plans-part", "Part", parts, part.name)]
    if len(models) > 1:
        found.insert(0, choice("plans-model", "Model", models, plan.model))
    if len(revisions) > 1:
        found.append(choice("plans-revision", "Revision", revisions, plan.name))
    return found


def drawing(part: Part, unit: str) -> html.Div:
    """The face of a part to scale, or words where nothing is read of it yet."""
    from qa.paper.drawing import face_svg

    if not any(part.to_read()):
        return html.Div(html.P("Nothing is read of this part yet.", className="aside"), className="drawing")
    width, height = DRAWN
    svg = face_svg(part, unit, width=width, height=height)
    return html.Div(**{"data-svg": svg}, className="drawing")


def held(part: Part, unit: str) -> html.Dl:
    """What each characteristic of a part is held to, in `unit`."""
    from qa.paper.tickets import held_to

    told = [(plain(it.name), held_to(it, it.limits(None), unit)) for it in part.characteristics.values()]
    return html.Dl([html.Div([html.Dt(name), html.Dd(text)]) for name, text in told], className="facts")


def _facts(plan: Plan, part: Part) -> html.Dl:
    climate = plan.reference
    low, high = climate.glue_rh_percent
    told = [
        ("species", part.species or "not named"),
        ("grain", ", ".join(f"{size} {way}" for size, way in part.grain.items()) or "not named"),
        ("sizes hold at", f"{climate.rh_percent:g} % RH, {climate.temp_c:g} °C"),
        ("glue at", f"{low:g} to {high:g} % RH"),
        ("a reading holds", f"{climate.reading_life_hours:g} hours"),
        ("written in", plan.unit),
    ]
    return html.Dl([html.Div([html.Dt(name), html.Dd(text)]) for name, text in told], className="facts")


def _edit(plan: Plan, part: Part) -> html.Div:
    href = plan_edit_at(plan.model, part.name, plan.name)
    return html.Div(
        [
            dcc.Link("Change this part", href=href, className="do quiet-do"),
            dcc.Link("New plan", href=plan_new_at(), className="do quiet-do"),
        ],
        className="steps",
    )


def _table(part: Part, unit: str) -> html.Table:
    head = html.Tr(
        [html.Th(text, scope="col") for text in ("Characteristic", "What it is", "Held to")]
        + [html.Th("Read at", scope="col", className="wide-only")]
    )
    rows = [_row(item, unit) for item in part.characteristics.values()]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="planned")


def _row(item: Characteristic, unit: str) -> html.Tr:
    from qa.bench.speech import say_reading
    from qa.characteristics import kinds
    from qa.paper.tickets import held_to

    places = ", ".join(station.name for station in item.stations if station.name)
    where = f"computed from {item.of}" if item.of else places or "once"
    reads = say_reading(item, unit)
    return html.Tr(
        [
            html.Th(plain(item.name), scope="row"),
            html.Td(kinds()[item.kind].says),
            html.Td(held_to(item, item.limits(None), unit)),
            html.Td(
                [plain(where), html.Div(f"read: {reads}", className="quiet") if reads else ""],
                className="wide-only",
            ),
        ]
    )


def _mates(shop: Shop, plan: Plan, part: Part) -> list[Component]:
    from qa.plans.mate_words import say_mate

    if not part.mates:
        return []
    told = [html.Li(f"{say_mate(mate, part, plan.parts, shop.unit)}.") for mate in part.mates]
    return [html.H2("Mates"), html.Ul(told, className="reasons")]


def _blanks(shop: Shop, plan: Plan, part: Part) -> list[Component]:
    from qa.bench.speech import amount
    from qa.errors import CannotSay
    from qa.plans.blank import blanks

    if not part.blanks:
        return []
    try:
        found = blanks(part, plan.reference, shop.species())
    except CannotSay as error:
        return [html.H2("Blank"), html.P(f"Its size cannot be told: {error}.")]
    told = []
    for item in found:
        terms = "".join(f" + {amount(each.amount, 'mm', shop.unit)} {each.name}" for each in item.allowances)
        finished = amount(item.finished, "mm", shop.unit)
        told.append(
            html.Li(f"{item.size}: cut to {amount(item.cut, 'mm', shop.unit)} = {finished} finished{terms}")
        )
    return [html.H2("Blank"), html.Ul(told, className="reasons")]


def _traps(plan: Plan) -> list[Component]:
    from qa.plans.rounding_traps import traps

    found = traps(plan)
    if not found:
        return []
    return [
        html.H2("Rounding traps of this plan"),
        html.Ul([html.Li(f"{text}.") for text in found], className="reasons"),
    ]


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the address of what was chosen."""

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("plans-part", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose_part(part: str | None, search: str) -> object:
        return _go(desk, search, part=part)

    for name in ("model", "revision"):

        @app.callback(
            Output(ADDRESS, "search", allow_duplicate=True),
            Input(f"plans-{name}", "value"),
            State(HERE, "search"),
            prevent_initial_call=True,
        )
        def choose(value: str | None, search: str) -> object:
            key = str(ctx.triggered_id).removeprefix("plans-")
            return _go(desk, search, **{key: value})


def _go(desk: Desk, search: str, **chosen: str | None) -> object:
    """The address of what is shown with one choice changed; no update where it says so already."""
    from urllib.parse import parse_qsl

    now = dict(parse_qsl((search or "").lstrip("?")))
    shop = desk.shop()
    plan, part = asked_of(shop, now)
    shown = {"model": plan.model, "revision": plan.name, "part": part.name}
    ((name, value),) = chosen.items()
    if not value or shown[name] == value:
        return no_update
    if name == "model":
        return moved({"model": value}, search)
    return moved({**shown, name: value}, search)


PAGE = Page("plans", "/plans", "Plans", content, label="Plans", register=register)
