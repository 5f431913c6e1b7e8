"""Settles how a sheet is read: what is certain is decided, with why; what is not becomes a question."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from qa.logs.sheets.dates import date_orders
from qa.logs.sheets.layout import CHOICES, DATES, DECIMAL, READ, Layout, clashes
from qa.logs.sheets.meaning import LEAVE, VALUE, Meaning, guess
from qa.logs.sheets.names import PLACE, PlanNames
from qa.logs.sheets.rows import Placed, placed, planned, readings_in, text_of
from qa.logs.sheets.sheet import Sheet
from qa.logs.sheets.total_words import is_total
from qa.logs.sheets.totals import ABOUT_READINGS, readings_only, total_rows
from qa.logs.sheets.units import bare, decimal_mark, unit_that_fits

Key = tuple[str, str]
"""A thing to decide: the table of a layout, and its key there."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is not certain: the thing to decide, why it is not, what it may be, and a proposal or ""."""

    key: Key
    why: str
    choices: tuple[str, ...] = ()
    proposal: str = ""


@dataclass(frozen=True, slots=True)
class _Certain:
    """What holds for every row, by its key, and why that is certain."""

    key: str
    words: str
    why: str


@dataclass(frozen=True, slots=True)
class Settled:
    """How a sheet is read as far as it is decided, why what was decided here, and what is left to ask."""

    layout: Layout
    why: Mapping[Key, str]
    questions: tuple[Question, ...]

    def proposed(self, names: PlanNames) -> Layout:
        """The layout with every proposal taken for an answer."""
        layout = self.layout
        for question in self.questions:
            if question.proposal:
                layout = layout.with_(*question.key, question.proposal, names)
        return layout


def settle(sheet: Sheet, given: Layout, names: PlanNames, instruments: Sequence[str] = ()) -> Settled:
    """Decide of a sheet what `given` leaves open and is certain; asked again after each answer."""
    layout, why, questions = _columns(sheet, given, names, instruments)
    layout = replace(layout, same={key: words for key, words in given.same.items() if not layout.holds(key)})
    questions += [Question((table, key), because) for table, key, because in clashes(layout)]
    questions += _missing(layout, [question.proposal for question in questions])
    if layout.values():
        questions += _totals(sheet, layout)
        sheet = readings_only(sheet, layout)
        questions += _unmatched(sheet, layout, names)
        readings = list(placed(sheet, layout, names))
        questions += _open_places(readings, layout, names)
        for item in _written(readings, layout, names):
            if isinstance(item, Question):
                questions.append(item)
            else:
                layout = layout.with_("same", item.key, item.words, names)
                why["same", item.key] = item.why
    return Settled(layout, why, tuple({question.key: question for question in questions}.values()))


def _columns(
    sheet: Sheet, given: Layout, names: PlanNames, instruments: Sequence[str]
) -> tuple[Layout, dict[Key, str], list[Question]]:
    columns = {name: given.columns[name] for name in sheet.columns if name in given.columns}
    guesses = {
        name: guess(name, sheet.cells(name), names, instruments)
        for name in sheet.columns
        if name not in columns
    }
    taken = {meaning.holds for meaning in columns.values()}
    taken |= {
        g.meaning.holds for g in guesses.values() if g.meaning and g.certain and g.meaning.holds != VALUE
    }
    proposed = [g.meaning.holds for g in guesses.values() if g.meaning and not g.certain]
    why, questions = {}, []
    for name, guessed in guesses.items():
        key, meaning = ("columns", name), guessed.meaning
        if meaning is None:
            questions.append(Question(key, guessed.why))
        elif guessed.certain:
            columns[name], why[key] = _without_taken(meaning, taken), guessed.why
        else:
            meaning = _without_taken(meaning, {*taken, *proposed})
            alone = meaning.holds in (LEAVE, VALUE) or (
                meaning.holds not in taken and proposed.count(meaning.holds) == 1
            )
            questions.append(Question(key, guessed.why, proposal=str(meaning) if alone else ""))
    ordered = {name: columns[name] for name in sheet.columns if name in columns}
    return replace(given, columns=ordered), why, questions


def _without_taken(meaning: Meaning, taken: Iterable[str]) -> Meaning:
    """What a column's name says of its readings, but for what another column says of each."""
    others = set(PLACE) & set(taken)
    return replace(meaning, fixed={name: text for name, text in meaning.fixed.items() if name not in others})


def _missing(layout: Layout, proposals: Sequence[str]) -> list[Question]:
    """What every log needs and no column holds, or may hold."""
    questions = []
    if not layout.values() and not proposals:
        questions.append(Question(("columns", ""), "no column holds the readings"))
    for name, what in (
        ("taken_at", "when they were taken, such as 2025-03-01"),
        ("build", "which build they are of"),
        ("instrument", "which instrument measured; blank where it is not known"),
    ):
        if not layout.of(name) and name not in (*layout.same, *proposals):
            questions.append(Question(("same", name), what))
    return questions


def _totals(sheet: Sheet, layout: Layout) -> Iterator[Question]:
    """Rows that are called a total: nothing is proposed, as a build or a person may be called so."""
    for row in total_rows(sheet, layout):
        if is_total(row.name) and layout.names.get(row.name) != LEAVE:
            why = f"in row {row.number} {ABOUT_READINGS}: {LEAVE} it, or {READ} it"
            yield Question(("names", row.name), why)


def _unmatched(sheet: Sheet, layout: Layout, names: PlanNames) -> list[Question]:
    """Names that are none of the plan's for certain."""
    questions: dict[str, Question] = {}
    for reading in readings_in(sheet, layout):
        for kind in PLACE:
            text = reading.cells.get(kind)
            if not text or text in layout.names or text in questions:
                continue
            if names.match(kind, text) is None:
                why = f"in row {reading.row} is no {kind} of the plan for certain"
                questions[text] = Question(("names", text), why, (*names.named(kind), LEAVE))
    return list(questions.values())


def _open_places(readings: Sequence[Placed], layout: Layout, names: PlanNames) -> Iterator[Question]:
    """What the readings are of, where neither a column nor the plan tells: the first that is open of each."""
    for reading, place_so_far in readings:
        choices = names.agreeing(place_so_far)
        for kind in PLACE:
            if choices and place_so_far[kind] is None and kind not in reading.cells:
                why = f"of the readings in {reading.column!r} is not said by any column"
                among = dict.fromkeys(getattr(place, kind) for place in choices)
                yield Question(("same", kind), why, tuple(among))
                return


def _written(readings: Sequence[Placed], layout: Layout, names: PlanNames) -> Iterator[_Certain | Question]:
    """How dates, numbers and lengths are written, where the sheet is not told."""
    if DATES not in layout.same and layout.of("taken_at"):
        orders, example = date_orders(reading.cells["taken_at"] for reading, _ in readings)
        if example:
            yield Question(("same", DATES), f"{example} may be more than one day", tuple(orders))
        elif orders:
            yield _Certain(DATES, orders[0], "no other order makes a date of every row")
    if DECIMAL not in layout.same:
        mark, example = decimal_mark(reading.value for reading, _ in readings)
        if example:
            comma = f"is the comma in {example!r} a decimal comma?"
            why = comma if "," in example else f"what is {example!r}?"
            yield Question(("same", DECIMAL), why, CHOICES[DECIMAL])
        elif mark:
            yield _Certain(DECIMAL, mark, "no other mark makes a number of every row")
    if "unit" not in layout.same:
        yield from _unit(readings, layout, names)


def _unit(readings: Sequence[Placed], layout: Layout, names: PlanNames) -> Iterator[_Certain | Question]:
    """The unit of the lengths that name none."""
    lengths = []
    for reading, place_so_far in readings:
        if bare(reading.value) and not text_of(reading, layout, "unit"):
            place = planned(place_so_far, names)
            if place is None or place.unit == "mm":
                lengths.append((reading, place.limits if place else None))
    if not lengths:
        return
    unit = unit_that_fits((reading.value, limits) for reading, limits in lengths)
    if unit:
        yield _Certain("unit", unit, "every size lies near its limits so, and none in the other unit")
        return
    columns = ", ".join(dict.fromkeys(repr(reading.column) for reading, _ in lengths))
    yield Question(("same", "unit"), f"of the lengths in {columns} is not certain", CHOICES["unit"])


def undecided(settled: Settled) -> dict[Key, str]:
    """Everything that is not decided, with words for it."""
    return {
        question.key: "; ".join(filter(None, (question.why, " or ".join(question.choices[:12]))))
        for question in settled.questions
    }
