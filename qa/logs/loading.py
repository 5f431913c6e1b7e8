"""Loads logs into the store: every row checked, all or nothing, and the same file twice adds nothing."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qa.errors import LogError, LogProblem, QaError, RowRefused
from qa.logs.files import pieces
from qa.logs.form import times, well_formed
from qa.logs.limits import WORKBOOKS
from qa.logs.piece import COLUMNS, Piece
from qa.logs.places import PlanTable, against_plan, plan_table
from qa.logs.ranges import beyond_ranges
from qa.logs.sheets.rows import OwnSheet
from qa.plans.plan import Plan
from qa.record import reading_key, utc
from qa.shop import Shop
from qa.store.store import Build, Store

if TYPE_CHECKING:
    import pandas as pd
    import sqlalchemy as sa

KEPT_PROBLEMS = 10_000
"""How many problems are told one by one; beyond it they are only counted, so that memory stays bounded."""


@dataclass(slots=True)
class Loaded:
    """What loading came to: rows read, loaded, already there, rejected, and why (the first 10,000)."""

    rows: int = 0
    loaded: int = 0
    duplicates: int = 0
    rejected: int = 0
    problems: list[LogProblem] = field(default_factory=list)
    rejected_files: list[Path] = field(default_factory=list)


class _RollBack(Exception):  # noqa: N818 - a way out of the transaction, not an error
    pass


def load(
    files: Sequence[Path | OwnSheet],
    shop: Shop,
    store: Store,
    *,
    model: str | None = None,
    partial: bool = False,
    accept_suspect: bool = False,
    sheet: str = "",
    progress: Callable[[int], None] = lambda rows: None,
) -> Loaded:
    """Check every row of the logs and store them: all, or with any problem none.

    A log is a file with the log's own columns, or a builder's own sheet with how it is read. Of workbooks
    with the log's own columns the sheet of that name is read, or the first.
    With `partial` the good rows are stored and the others written beside each log as NAME.rejected.csv, with
    the reasons. With `accept_suspect` sizes that look like a slip are stored marked. LogError where a file as
    a whole cannot be read (with `partial` too); a problem of a row is in the answer, and nothing was stored.
    """
    result = Loaded()
    readers = [_reader(log, sheet) for log in files]
    revised = any(len(revisions) > 1 for revisions in shop.plans.values())
    begun = [_begun(read(), shop.zone()) if revised else {} for read in readers]
    with suppress(_RollBack), store.writing() as connection:
        first = store.last_sequence(connection)
        for log, read, days in zip(files, readers, begun, strict=True):
            loader = _Loader(
                log, shop, store, connection, result, first, model, accept_suspect, partial, days
            )
            loader.run(read(), progress)
        if result.problems and not partial:
            result.loaded = 0
            raise _RollBack
    return result


def _reader(log: Path | OwnSheet, sheet: str) -> Callable[[], Iterable[Piece]]:
    """Gives a log's pieces as often as it is asked.

    A sheet takes far longer to read than to store, and is held whole anyway: it is read here and now, before
    anybody has to wait for the store. Other files are read as they are asked for.
    """
    if isinstance(log, Path) and log.suffix.lower() not in WORKBOOKS:
        return lambda: pieces(log, sheet)
    held = list(pieces(log, sheet) if isinstance(log, Path) else log.pieces())
    return lambda: held


def _begun(rows: Iterable[Piece], zone: dt.tzinfo) -> dict[str, dt.date]:
    """On what day each build was begun, wherever in the log its earliest row stands."""
    found: dict[str, dt.date] = {}
    for piece in rows:
        first = times(piece.frame["taken_at"].str.strip(), zone).groupby(piece.frame["build"].str.strip())
        for build, moment in first.min().dropna().items():
            day = moment.date()
            found[str(build)] = min(day, found.get(str(build), day))
    return found


def _cells(raw: pd.DataFrame, row: int) -> list[str]:
    return [str(raw.at[row, name]) for name in COLUMNS]


def stored_rows(frame: pd.DataFrame, plan: Plan) -> list[tuple[Any, ...]]:
    """Checked rows as the store keeps them, in the order of `qa.store.store.STORED`."""
    import numpy as np

    moments = frame["time"].dt.tz_localize(None).to_numpy().astype("datetime64[us]")
    taken_at = [f"{moment}Z" for moment in np.datetime_as_string(moments, unit="us").tolist()]
    amounts = frame["millionths"].astype("int64").tolist()
    units = frame["stored_unit"].tolist()
    named = [frame[name].tolist() for name in ("build", "part", "characteristic", "station")]
    instruments = frame["instrument"].tolist()
    texts = map("\x1f".join, zip(*named, map(str, amounts), units, instruments, repeat(""), strict=False))
    keys = map(reading_key, moments.astype("int64").astype(">i8").view("V8").tolist(), texts)
    entered = (frame["value"] + " " + frame["unit"]).str.strip().tolist()
    optional = [frame[name].tolist() for name in ("bench", "machine")]
    climate = [
        frame[name].astype("object").where(frame[name].notna(), None).tolist() for name in ("rh", "temp")
    ]
    return list(
        zip(
            keys,
            repeat(utc(dt.datetime.now(dt.UTC))),
            taken_at, *named, amounts, units, entered, instruments, *optional, *climate,
            frame["note"].tolist(),
            frame["suspect"].tolist(),
            repeat(False),
            repeat(None),
            repeat(""),
            repeat(plan.digest),
            strict=False,
        )
    )  # fmt: skip


@dataclass(slots=True)
class _Loader:
    """One log on its way into the store, inside the caller's transaction."""

    log: Path | OwnSheet
    shop: Shop
    store: Store
    connection: sa.Connection
    result: Loaded
    first_sequence: int
    model: str | None
    accept_suspect: bool
    partial: bool
    begun: dict[str, dt.date]
    plans: dict[str, Plan] = field(default_factory=dict)
    tables: dict[str, PlanTable] = field(default_factory=dict)
    rejects: list[tuple[list[str], str]] = field(default_factory=list)

    @property
    def path(self) -> Path:
        return self.log.sheet.path if isinstance(self.log, OwnSheet) else self.log

    def run(self, rows: Iterable[Piece], progress: Callable[[int], None]) -> None:
        before = self.result.rows
        for piece in rows:
            self.result.rows += len(piece.frame) + len(piece.malformed)
            self._take(piece)
            progress(self.result.rows)
        if self.result.rows == before:
            own = isinstance(self.log, OwnSheet)
            why = "holds no reading: its rows are blank or left out" if own else "has a header and no row"
            raise LogError([LogProblem(self.path.name, None, "", "", why)])
        if self.partial and self.rejects:
            self._write_rejects()

    def _take(self, piece: Piece) -> None:
        for problem, cells in piece.malformed:
            self._reject(problem, cells)
        checked = well_formed(piece.frame, self.path.name, self.shop.zone())
        frame = self._without(checked.frame, piece, checked.problems)
        for plan, rows in self._by_plan(frame, piece):
            table = self.tables.setdefault(plan.digest, plan_table(plan))
            met = against_plan(rows, table, self.path.name, self.accept_suspect)
            frame = self._without(met.frame, piece, met.problems)
            beyond = beyond_ranges(frame, self.shop.instruments, self.path.name)
            self._store(self._without(frame, piece, beyond), piece, plan)

    def _reject(self, problem: LogProblem, cells: list[str]) -> None:
        self.result.rejected += 1
        if len(self.result.problems) < KEPT_PROBLEMS:
            self.result.problems.append(problem)
        if self.partial:
            self.rejects.append((cells, str(problem)))

    def _without(self, frame: pd.DataFrame, piece: Piece, problems: list[LogProblem]) -> pd.DataFrame:
        """The frame without its faulty rows, each rejected once with all its reasons."""
        faulty: dict[int, list[LogProblem]] = {}
        for problem in problems:
            faulty.setdefault(problem.row or 0, []).append(piece.told(problem))
        for row, found in faulty.items():
            self._reject(found[0], _cells(piece.frame, row))
            self.result.problems += found[1:] if len(self.result.problems) < KEPT_PROBLEMS else []
        return frame.drop(index=list(faulty)) if faulty else frame

    def _by_plan(self, frame: pd.DataFrame, piece: Piece) -> list[tuple[Plan, pd.DataFrame]]:
        """The rows under each plan revision; a build keeps the model it was begun as."""
        refused: list[LogProblem] = []
        begun = {str(name): first.date() for name, first in frame.groupby("build")["time"].min().items()}
        new = [name for name in begun if name not in self.plans]
        known = self.store.builds(new, self.connection)
        for build in new:
            try:
                self._begin(build, known.get(build), begun[build])
            except RowRefused as error:
                rows = frame.index[frame["build"] == build]
                refused += [LogProblem(self.path.name, int(row), "build", build, str(error)) for row in rows]
        frame = self._without(frame, piece, refused)
        digests = frame["build"].map({build: plan.digest for build, plan in self.plans.items()})
        by_digest = {plan.digest: plan for plan in self.plans.values()}
        return [(by_digest[str(digest)], rows) for digest, rows in frame.groupby(digests, sort=False)]

    def _begin(self, build: str, known: Build | None, begun: dt.date) -> None:
        model = self.shop.model(self.model or (known.model if known else None))
        begun = min(begun, self.begun.get(build, begun), known.begun if known else begun)
        plan = self.shop.plan(model, begun)
        self.store.note_build(self.connection, build, plan)
        self.plans[build] = plan

    def _store(self, frame: pd.DataFrame, piece: Piece, plan: Plan) -> None:
        rows = stored_rows(frame, plan)
        if not rows:
            return
        last = self.store.last_sequence(self.connection)
        new = self.store.append_rows(self.connection, rows)
        if new < len(rows):
            self._tell_repeats(frame, piece, [row[0] for row in rows], last)
        self.result.loaded += new

    def _tell_repeats(self, frame: pd.DataFrame, piece: Piece, keys: list[bytes], last: int) -> None:
        """Rows not stored anew: in the store before, or given twice in these logs."""
        stored = self.store.keys_stored(self.connection, keys)
        seen: set[bytes] = set()
        for index, key in zip(frame.index, keys, strict=True):
            if key in seen or self.first_sequence < stored[key] <= last:
                value = str(piece.frame.at[index, "value"])
                why = "is the same reading as an earlier row; delete one of the two"
                problem = LogProblem(self.path.name, int(index), "value", value, why)
                self._reject(piece.told(problem), _cells(piece.frame, int(index)))
            elif stored[key] <= self.first_sequence:
                self.result.duplicates += 1
            seen.add(key)

    def _write_rejects(self) -> None:
        target = self.path.with_suffix(".rejected.csv")
        if target in self.result.rejected_files:  # of the same name with another ending
            target = self.path.with_name(f"{self.path.name}.rejected.csv")
        try:
            with target.open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file)
                writer.writerow([*COLUMNS, "why"])
                writer.writerows([*cells[: len(COLUMNS)], why] for cells, why in self.rejects)
        except OSError as error:
            raise QaError(f"{target} cannot be written ({error.strerror}), so nothing was loaded") from error
        self.result.rejected_files.append(target)
