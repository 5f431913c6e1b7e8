"""Makes ready what is loaded: a log with the log's own columns as it is, and a builder's own sheet."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from qa.cli.log_asking import TABLES, about, ask, ask_what_lasts, refused
from qa.errors import LogError, ShopError

if TYPE_CHECKING:
    from qa.logs.sheets.layout import Layout
    from qa.logs.sheets.names import PlanNames
    from qa.logs.sheets.rows import OwnSheet
    from qa.logs.sheets.settling import Question, Settled
    from qa.logs.sheets.sheet import Sheet
    from qa.shop import Shop

TOLD = 8


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads own sheets of a shop; `given` are options by table of a layout, each NAME=WHAT.

    `title` is the sheet of a workbook that is asked for.
    With `at_terminal` a person is asked what is not certain; without, it is refused, unless `yes` takes what
    is proposed.
    """

    shop: Shop
    model: str | None = None
    given: Mapping[str, Sequence[str]] = field(default_factory=dict)
    title: str = ""
    yes: bool = False
    at_terminal: bool = False
    quiet: bool = False

    def logs(self, files: Sequence[Path]) -> list[Path | OwnSheet]:
        """Each file as it is loaded; LogError names in one line what is not decided of an own sheet."""
        own = {path for path in files if not self._is_log(path)}
        for table, said in self.given.items():
            if said and not own:
                raise ShopError(f"{TABLES[table]} is for columns of your own: these are the log's own")
        return [self._own(path) if path in own else path for path in files]

    def _is_log(self, path: Path) -> bool:
        """Whether it has the log's own columns."""
        from qa.logs.files import has_log_columns
        from qa.logs.limits import WORKBOOKS

        if self.title and path.suffix.lower() not in WORKBOOKS:
            raise ShopError(f"--sheet is for a workbook: {path.name} is none")
        found = has_log_columns(path, self.title)
        if found:
            _tell_sheets(path, self.title)
        return found

    def show(self, files: Sequence[Path]) -> None:
        """Print how each file would be read, as the file of a layout, with its first readings as stored."""
        from qa.logs.sheets.examples import first_readings
        from qa.logs.sheets.keeping import layout_text
        from qa.logs.sheets.rows import OwnSheet
        from qa.logs.sheets.settling import undecided

        for path in files:
            typer.echo(f"# {path.name}")
            if self._is_log(path):
                typer.echo("# It has the log's own columns: nothing is to be decided.")
                continue
            sheet, names, layout = self._begun(path)
            settled = self._settled(sheet, layout, names, proposals=True)
            typer.echo(layout_text(settled.layout, undecided(settled)))
            own = OwnSheet(sheet, settled.layout, names)
            for row in first_readings(own, self.shop.zone(), self.shop.unit):
                typer.echo(f"# {'  '.join(row)}".rstrip())

    def _own(self, path: Path) -> OwnSheet:
        from qa.logs.sheets.keeping import keep_layout
        from qa.logs.sheets.rows import OwnSheet

        sheet, names, layout = self._begun(path)
        lasting: list[str] = []
        settled = self._settled(sheet, layout, names, self.yes)
        if self.at_terminal and (settled.questions or not layout.source):
            settled = ask(
                sheet,
                layout,
                names,
                self.shop,
                lambda given: self._settled(sheet, given, names, proposals=True),
            )
            lasting = [] if layout.source else ask_what_lasts(settled.layout)
        if settled.questions:
            raise refused(sheet, _undecided(sheet, settled.questions))
        for key in (key for key in layout.same if key not in settled.layout.same):
            raise refused(sheet, f"--same {key}: the column {settled.layout.of(key)!r} holds it")
        kept = keep_layout(self.shop.folder, settled.layout, path.stem, lasting)
        if not self.quiet:
            new = "" if layout.source else "; edit it, or delete it to be asked again"
            typer.echo(f"{path.name}: columns read as in {kept}{new}")
        return OwnSheet(sheet, settled.layout, names)

    def _begun(self, path: Path) -> tuple[Sheet, PlanNames, Layout]:
        """The sheet, the names of the plans, and what is decided beforehand: as kept, then by options."""
        from qa.logs.sheets.layout import Layout
        from qa.logs.sheets.names import plan_names

        shop = self.shop
        models = [shop.model(self.model)] if self.model or len(shop.plans) == 1 else list(shop.plans)
        names = plan_names(plan for model in models for plan in shop.plans[model])
        sheet, kept = self._sheet(path, names)
        _tell_sheets(path, sheet.title)
        layout = kept or Layout()
        layout = replace(layout, sheet=layout.sheet or sheet.title)
        for table, items in self.given.items():
            for item in items:
                layout = _with_option(layout, table, item, sheet, names)
        return sheet, names, layout

    def _sheet(self, path: Path, names: PlanNames) -> tuple[Sheet, Layout | None]:
        """A sheet and its kept layout: the one asked for; else the first, unless only a later one has one."""
        from qa.logs.limits import WORKBOOKS
        from qa.logs.sheets.keeping import kept_layout, kept_names
        from qa.logs.sheets.meaning import is_known
        from qa.logs.sheets.sheet import read_sheet

        columns, titles = kept_names(self.shop.folder)

        def read(title: str) -> tuple[Sheet, Layout | None]:
            sheet = read_sheet(path, lambda name: name in columns or is_known(name, names), title)
            return sheet, kept_layout(self.shop.folder, sheet.columns, names)

        if titles and not self.title and path.suffix.lower() in WORKBOOKS:
            for title in ("", *titles):
                with suppress(LogError):
                    sheet, layout = read(title)
                    if layout:
                        return sheet, layout
        return read(self.title)

    def _settled(self, sheet: Sheet, layout: Layout, names: PlanNames, proposals: bool) -> Settled:
        """What is decided and what is not; with `proposals` they are taken for decided."""
        from qa.logs.sheets.settling import settle

        instruments = tuple(self.shop.instruments)
        settled = settle(sheet, layout, names, instruments)
        if not proposals:
            return settled
        why = {question.key: question.why for question in settled.questions} | dict(settled.why)
        settled = settle(sheet, settled.proposed(names), names, instruments)
        return replace(settled, why=why | dict(settled.why))


def _tell_sheets(path: Path, title: str) -> None:
    from qa.logs.workbooks import sheets_not_read

    told = sheets_not_read(path, title)
    if told:
        typer.echo(f"dryfit: {path.name}: {told} (--sheet NAME reads another)", err=True)


def _with_option(layout: Layout, table: str, item: str, sheet: Sheet, names: PlanNames) -> Layout:
    key, equals, said = item.partition("=")
    option = f"{TABLES[table]} {shlex.quote(item)}"
    if not equals:
        raise ShopError(f"{option}: write NAME=WHAT")
    if table == "columns" and key not in sheet.columns:
        raise ShopError(f"{option}: {sheet.path.name} has no such column; it has {', '.join(sheet.columns)}")
    try:
        return layout.with_(table, key, said, names)
    except ShopError as error:
        raise ShopError(f"{option}: {error}") from error


def _undecided(sheet: Sheet, questions: Sequence[Question]) -> str:
    """What is not decided, and how to say it, in one line."""
    told = [_open(question) for question in questions[:TOLD]]
    told += [f"{len(questions) - TOLD} more"] if len(questions) > TOLD else []
    options = [_option(question) for question in questions if not question.proposal]
    options += ["--yes, which takes what is proposed"] if len(options) < len(questions) else []
    return (
        f"not decided: {'; '.join(told)}. Say it at a terminal, or with {' '.join(options)}; or in "
        f"sheets/{sheet.path.stem}.toml in the shop's folder, as `dryfit load --show` drafts it"
    )


def _open(question: Question) -> str:
    may_be = question.proposal or " or ".join(question.choices[:4])
    return f"{about(*question.key)} ({f'{may_be}?' if may_be else question.why})"


def _option(question: Question) -> str:
    """What says it, for WHAT and NAME to be filled in."""
    table, key = question.key
    return f"{TABLES[table]} {shlex.quote(f'{key}=WHAT')}" if key else f"{TABLES[table]} NAME=value"
