"""What is recorded of many series over the same builds, as arrays, and the causes it can speak for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.arithmetic.series import FloatArray

Kind = Literal["instrument", "machine", "bench", "humidity", "time"]
AT_THE_CUT, SINCE_THE_CUT = "the air it was cut in", "the air since it was cut"


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """Deviations[n builds, J series] in mm with what was recorded of each; NaN where there is no reading.

    `instruments` and `machines`[n, J] and `benches`[n] are names, "" where not recorded. `absolute`[J] says
    that a caliper's zero offset is in the series: false for a taper or any other difference. `settled`[n, J]
    is how far (mm) the wood would move from its reference climate to the room's at that reading if it
    followed fully; 0 where it does not move, NaN where the room is not recorded.
    """

    builds: tuple[str, ...]
    series: tuple[str, ...]
    deviations: FloatArray
    instruments: NDArray[np.str_]
    machines: NDArray[np.str_]
    benches: NDArray[np.str_]
    absolute: NDArray[np.bool_]
    settled: FloatArray

    def newest(self, builds: int) -> Panel:
        """The same of the newest builds only."""
        return self.rows(slice(max(0, len(self.builds) - builds), None))

    def rows(self, which: slice) -> Panel:
        """The same of some of the builds."""
        return Panel(
            self.builds[which],
            self.series,
            self.deviations[which],
            self.instruments[which],
            self.machines[which],
            self.benches[which],
            self.absolute,
            self.settled[which],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A cause that may have moved some readings: those where `touches`[n, J] is true, all alike.

    Where `scan` is true it may have done so over any pattern of builds; else `amounts`[n, J] is what it
    would have added to each, up to a factor.
    """

    kind: Kind
    name: str
    touches: NDArray[np.bool_]
    amounts: FloatArray | None = None

    @property
    def scan(self) -> bool:
        return self.amounts is None

    @property
    def cause(self) -> tuple[str, str]:
        return self.kind, self.name


def candidates(panel: Panel) -> list[Candidate]:
    """Every cause the panel's records can speak for.

    An instrument moves all sizes read with it alike, a machine all sizes it makes, a bench one series of its
    own builds, the room all wood across the grain in proportion; "time" is one series by itself.
    """
    present = np.isfinite(panel.deviations)
    found = [_together(panel, present, "instrument", panel.instruments, fewest=2)]
    found.append(_together(panel, present, "machine", panel.machines, fewest=2))
    found.append(_humidity(panel, present))
    found.append(_of_benches(panel, present))
    found.append(_alone(panel, present))
    return [item for some in found for item in some]


def _together(
    panel: Panel, present: NDArray[np.bool_], kind: Kind, names: NDArray[np.str_], fewest: int
) -> list[Candidate]:
    found = []
    for name in _named(names[present]):
        touches = present & (names == name) & panel.absolute
        if np.count_nonzero(touches.any(axis=0)) >= fewest:
            found.append(Candidate(kind, name, touches))
    return found


def _humidity(panel: Panel, present: NDArray[np.bool_]) -> list[Candidate]:
    """The air at the cut, felt by sizes, apart from the air since, felt by what moved between readings."""
    known = present & np.isfinite(panel.settled)
    moves = known & (np.abs(np.where(known, panel.settled, 0.0)).max(axis=0, initial=0.0) > 0)
    felt = ((AT_THE_CUT, moves & panel.absolute), (SINCE_THE_CUT, moves & ~panel.absolute))
    amounts = np.where(moves, panel.settled, 0.0)
    return [Candidate("humidity", name, s, np.where(s, amounts, 0.0)) for name, s in felt if s.any()]


def _of_benches(panel: Panel, present: NDArray[np.bool_]) -> list[Candidate]:
    found = []
    names = _named(panel.benches)
    for name in names if len(names) > 1 else ():
        own = present & (panel.benches == name)[:, None]
        for column, series in enumerate(panel.series):
            if 2 <= own[:, column].sum() < present[:, column].sum():
                found.append(Candidate("bench", f"{name}: {series}", _only(own, column)))
    return found


def _alone(panel: Panel, present: NDArray[np.bool_]) -> list[Candidate]:
    columns = (column for column in range(len(panel.series)) if present[:, column].sum() >= 2)
    return [Candidate("time", panel.series[column], _only(present, column)) for column in columns]


def _only(touches: NDArray[np.bool_], column: int) -> NDArray[np.bool_]:
    alone = np.zeros_like(touches)
    alone[:, column] = touches[:, column]
    return alone


def _named(names: Sequence[str] | NDArray[np.str_]) -> list[str]:
    return sorted({str(name) for name in names if name})
