"""Crossed repeatability study against the widely reprinted one: ten parts, three appraisers, three trials.

Data: AIAG Measurement Systems Analysis, 4th ed., chapter III.
"""

import pandas as pd
import pytest

from qa.repeatability import average_and_range, crossed_study

READINGS = """
A1  .29 -.56 1.34 .47 -.80  .02 .59 -.31 2.26 -1.36
A2  .41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25
A3  .64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31
B1  .08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68
B2  .25 -1.22 .94 1.03 -1.20 .22 .55  .08 2.12 -1.62
B3  .07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50
C1  .04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49
C2 -.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 -1.77
C3 -.15 -.96  .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16
"""


@pytest.fixture(scope="module")
def frame():
    """The study as part, appraiser, trial, value."""
    return pd.DataFrame(
        [
            {"part": part, "appraiser": who[0], "trial": int(who[1]), "value": float(value)}
            for who, *row in (line.split() for line in READINGS.strip().splitlines())
            for part, value in enumerate(row, start=1)
        ]
    )


def test_analysis_of_variance_table(frame):
    """Sums of squares, degrees of freedom and mean squares (from memory)."""
    table = {row.source: row for row in crossed_study(frame).table}

    assert {name: row.df for name, row in table.items() if name != "pooled repeatability"} == {
        "appraiser": 2,
        "part": 9,
        "interaction": 18,
        "repeatability": 60,
        "total": 89,
    }
    for name, ss in {
        "appraiser": 3.1673,
        "part": 88.3619,
        "interaction": 0.3590,
        "repeatability": 2.7589,
        "total": 94.6471,
    }.items():
        assert table[name].ss == pytest.approx(ss, abs=5.1e-5)
    for name, ms in {
        "appraiser": 1.58363,
        "part": 9.81799,
        "interaction": 0.01994,
        "repeatability": 0.04598,
    }.items():
        assert table[name].ms == pytest.approx(ms, abs=5.1e-6)
    assert table["interaction"].f == pytest.approx(0.434, abs=5e-4)
    assert table["interaction"].p == pytest.approx(0.974, abs=5e-4)
    assert table["appraiser"].ms / table["repeatability"].ms == pytest.approx(34.44, abs=0.005)
    assert table["part"].ms / table["repeatability"].ms == pytest.approx(213.52, abs=0.005)


def test_components(frame):
    """Standard deviations with the interaction pooled, and their shares (from memory)."""
    study = crossed_study(frame)

    assert study.repeatability == pytest.approx(0.199933, abs=1e-6)
    assert study.reproducibility == pytest.approx(0.226838, abs=1e-6)
    assert study.interaction == 0
    assert study.gauge == pytest.approx(0.302373, abs=2e-6)
    assert study.part == pytest.approx(1.042327, abs=1e-6)
    assert study.total == pytest.approx(1.085300, abs=1e-6)
    assert study.distinct_categories_exact == pytest.approx(4.86, abs=0.005)
    assert study.distinct_categories == 4
    shares = {part.name: part for part in study.components}
    for name, of_total, of_variance in (
        ("repeatability", 18.4, 3.4),
        ("reproducibility", 20.9, 4.4),
        ("gauge", 27.9, 7.8),
        ("part", 96.0, 92.2),
    ):
        assert shares[name].of_total == pytest.approx(of_total, abs=0.051)
        assert shares[name].of_variance == pytest.approx(of_variance, abs=0.051)


def test_unpooled_tests(frame):
    """With the interaction kept, the others are tested over it: 492.291 and 79.406 (from memory)."""
    table = {row.source: row for row in crossed_study(frame, pool_above=1).table}

    assert table["part"].f == pytest.approx(492.291, abs=5e-4)
    assert table["appraiser"].f == pytest.approx(79.406, abs=5e-4)
    assert table["part"].over == "interaction"


def test_average_and_range(frame):
    """Averages and ranges, within the manual's rounded steps (some of them from memory)."""
    study = average_and_range(frame)

    assert study.mean_range == pytest.approx(0.3417, abs=5e-5)
    assert study.appraiser_difference == pytest.approx(0.4446, abs=1e-4)
    assert study.part_range == pytest.approx(3.511, abs=5e-4)
    assert study.range_upper == pytest.approx(0.8815, rel=0.0025)  # the manual's D4 for three is 2.58
    for name, sd in {
        "repeatability": 0.20188,
        "reproducibility": 0.22963,
        "gauge": 0.30575,
        "part": 1.10456,
        "total": 1.14610,
    }.items():
        assert getattr(study, name) == pytest.approx(sd, abs=1.2e-4)
    assert study.gauge / study.total == pytest.approx(0.2668, abs=1e-4)
    assert study.distinct_categories == 5


def test_factors_of_average_and_range():
    """The manual's K1 for 3 trials, K2 for 3 appraisers, K3 for 10 parts, from computed constants."""
    from qa.charts import constants

    assert 1 / constants(3).d2 == pytest.approx(0.5908, abs=5e-5)
    assert 1 / constants(3).d2_star == pytest.approx(0.5231, abs=5e-5)
    assert 1 / constants(10).d2_star == pytest.approx(0.3146, abs=5e-5)
