"""Analysis of variance of a crossed study: parts × appraisers × trials, all drawn at random."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qa.arithmetic.series import FloatArray

_DRAWS, _SEED = 20_000, 20_240_502


@dataclass(frozen=True, slots=True)
class AnovaRow:
    """One row of the table; `f` is `ms` over the mean square of the row named `over`, with its chance `p`.

    None where a row has no such entry.
    """

    source: str
    df: int
    ss: float
    ms: float | None = None
    f: float | None = None
    p: float | None = None
    over: str | None = None


@dataclass(frozen=True, slots=True)
class Anova:
    """The table, the interaction pooled or not; `shape` counts parts, appraisers and trials."""

    rows: tuple[AnovaRow, ...]
    pooled: bool
    interaction_p: float
    shape: tuple[int, int, int]


def analyse(values: FloatArray, pool_above: float) -> Anova:
    """Split the sum of squares of `values`, shape (parts, appraisers, trials), into its sources.

    Parts and appraisers are tested over the interaction, or over the pooled repeatability where the
    interaction's own p is above `pool_above`.
    """
    parts, appraisers, trials = values.shape
    centred = values - values.mean()
    cells = centred.mean(axis=2)
    by_part, by_appraiser = cells.mean(axis=1), cells.mean(axis=0)
    crossed = cells - by_part[:, None] - by_appraiser[None, :]
    interaction = _row("interaction", (parts - 1) * (appraisers - 1), trials * (crossed**2).sum())
    repeats = _row(
        "repeatability", parts * appraisers * (trials - 1), ((centred - cells[:, :, None]) ** 2).sum()
    )
    interaction = _tested(interaction, repeats)
    p = 1.0 if interaction.p is None else interaction.p
    pooled = _row("pooled repeatability", interaction.df + repeats.df, interaction.ss + repeats.ss)
    error = pooled if p > pool_above else interaction
    rows = (
        _tested(_row("appraiser", appraisers - 1, parts * trials * (by_appraiser**2).sum()), error),
        _tested(_row("part", parts - 1, appraisers * trials * (by_part**2).sum()), error),
        interaction,
        repeats,
        *([pooled] if error is pooled else []),
        AnovaRow("total", values.size - 1, float((centred**2).sum())),
    )
    return Anova(rows, error is pooled, p, (parts, appraisers, trials))


def variances(anova: Anova) -> dict[str, float]:
    """Variance of each source by its expected mean square; may come out below zero."""
    squares = {row.source: np.asarray(row.ms) for row in anova.rows if row.ms is not None}
    return {name: float(value) for name, value in _solve(anova, squares).items()}


def spans(anova: Anova, level: float) -> dict[str, tuple[float, float]]:
    """Interval of the standard deviation of each source and of their sums.

    Each mean square is drawn anew as ms × df / χ²(df), and the variances solved for every draw. That of the
    interaction is always from its own mean square: pooling it does not prove that there is none.
    """
    random = np.random.default_rng(_SEED)
    squares = {
        row.source: row.ms * row.df / random.chisquare(row.df, _DRAWS)
        for row in anova.rows
        if row.ms is not None
    }
    solved = {name: np.maximum(value, 0) for name, value in _solve(anova, squares).items()}
    drawn = with_sums(solved)
    drawn["interaction"] = np.maximum(squares["interaction"] - squares["repeatability"], 0) / anova.shape[2]
    ends = ((1 - level) / 2, (1 + level) / 2)
    return {name: _ends(np.quantile(np.sqrt(value), ends)) for name, value in drawn.items()}


def with_sums(parts: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Add the variances of the gauge and of everything together."""
    gauge = parts["repeatability"] + parts["reproducibility"] + parts["interaction"]
    return {**parts, "gauge": gauge, "total": gauge + parts["part"]}


def _row(source: str, df: int, ss: float) -> AnovaRow:
    return AnovaRow(source, df, float(ss), float(ss) / df)


def _tested(row: AnovaRow, error: AnovaRow) -> AnovaRow:
    from scipy.special import fdtrc

    if row.ms is None or not error.ms:
        return row
    f = row.ms / error.ms
    return AnovaRow(row.source, row.df, row.ss, row.ms, f, float(fdtrc(row.df, error.df, f)), error.source)


def _solve(anova: Anova, ms: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    parts, appraisers, trials = anova.shape
    repeats = ms["pooled repeatability" if anova.pooled else "repeatability"]
    error = repeats if anova.pooled else ms["interaction"]
    return {
        "repeatability": repeats,
        "reproducibility": (ms["appraiser"] - error) / (parts * trials),
        "interaction": (error - repeats) / trials,
        "part": (ms["part"] - error) / (appraisers * trials),
    }


def _ends(pair: FloatArray) -> tuple[float, float]:
    return float(pair[0]), float(pair[1])
