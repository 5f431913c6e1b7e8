"""A plan under change: its text so far, what was typed into it, and what reading it would say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from qa.errors import PlanProblem
    from qa.plans.edit import PlanTable
    from qa.plans.plan import Survey


@dataclass(frozen=True, slots=True)
class Draft:
    """The text of a plan as far as it is changed, and the section whose fields are shown ("" is the plan).

    Any text may be in its fields; only saving asks that the plan holds. `strict` is whether a save was
    refused: from then on what is missing is told too, not only what is wrong.
    """

    text: str
    section: str
    file: str
    strict: bool = False

    def kept(self) -> dict[str, Any]:
        """As the page keeps it between two steps."""
        return asdict(self)

    def survey(self) -> Survey:
        """What reading the text brings up."""
        from qa.plans.plan import survey

        return survey(self.text, self.file)

    def table(self) -> PlanTable:
        """The keys of the section shown."""
        from qa.plans.edit import table_of

        return table_of(self.text, self.section, self.file)

    def typed(self, values: Mapping[str, str]) -> Draft:
        """With what was typed, by the id of its field."""
        from qa.plans.edit import typed_in

        return replace(self, text=typed_in(self.text, self.section, self.file, values))

    def added(self, path: tuple[str, ...], name: str, kind: str) -> Draft:
        """With something new in a table of names; a new part is shown. PlanError for a bad name."""
        from qa.plans.edit import added

        text = added(self.text, path, name, self.file, kind)
        return replace(self, text=text, section=name.strip() if path == ("parts",) else self.section)

    def removed(self, path: tuple[str, ...]) -> Draft:
        """Without something named."""
        from qa.plans.edit import removed

        return replace(self, text=removed(self.text, path, self.file))

    def shown(self, section: str) -> Draft:
        """With the fields of another section."""
        return replace(self, section=section)

    def problems(self) -> dict[str, str]:
        """What is wrong, by the id of its field; what is only missing waits for a refused save."""
        texts = {item.id: item.text for item in self.table()}
        beside, _ = placed(self.survey().problems, self.places())
        return {name: why for name, why in beside.items() if self.strict or texts.get(name)}

    def places(self) -> list[str]:
        """Where a problem may stand: the id of every field, and the key of every table of names."""
        table = self.table()
        return [*(item.id for item in table), *(".".join(path) for path in table.named_tables())]


def placed(problems: Iterable[PlanProblem], ids: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    """Problems by the id of the field they are about, and those about none of them, in words."""
    beside: dict[str, list[str]] = {}
    others: list[str] = []
    for problem in problems:
        place = _place(problem.key, ids)
        if place is None:
            others.append(f"{problem.key}: {problem.why}" if problem.key else problem.why)
        elif problem.why not in beside.setdefault(place, []):
            beside[place].append(problem.why)
    return {place: "; ".join(whys) for place, whys in beside.items()}, others


def _place(key: str, ids: Sequence[str]) -> str | None:
    """The field of a key, else the first one within it."""
    keys = [(name, name.partition("#")[0]) for name in ids if key]
    exact = next((name for name, its in keys if its == key), None)
    return exact or next((name for name, its in keys if its.startswith(f"{key}.")), None)
