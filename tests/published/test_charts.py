"""Control charts against published figures. "From memory" marks figures not seen in their source."""

import numpy as np
import pytest

from qa.charts import RULES, constants, cusum, ewma, individuals, run_rules
from qa.charts.signals import HIGH_SUM_BEYOND_LIMIT

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA_SERIES = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW]
CUSUM_SERIES = [
    *(324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600),
    *(324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350),
]


def test_individuals_limits():
    """NIST/SEMATECH e-Handbook 6.3.2.2: centre, mean moving range and limits to four places."""
    chart = individuals(FLOW)

    assert chart.center == pytest.approx(50.81, abs=5e-5)
    assert chart.range_center == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == []


def test_ewma_values_and_limits():
    """NIST/SEMATECH e-Handbook 6.3.2.4: start 50, s 2.0539, weight 0.3 (limits from memory)."""
    printed = [
        *(50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33),
        *(50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99),
    ]

    chart = ewma(EWMA_SERIES, target=50, sigma=2.0539, weight=0.3, steady_state=True)

    assert chart.smoothed == pytest.approx(printed, abs=0.0051)
    assert chart.upper[-1] == pytest.approx(52.5884, abs=5e-5)
    assert chart.lower[-1] == pytest.approx(47.4115, abs=1e-4)
    assert chart.signals == []


def test_cusum_sums_and_first_signal():
    """NIST/SEMATECH e-Handbook 6.3.2.3: sums in the unit of the values, first signal at sample 14."""
    sigma = 0.635
    printed_high = [
        0,
        0,
        0,
        0,
        0.03,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        3.01,
        4.94,
        7.45,
        10.63,
        11.99,
        14.44,
        16.00,
        19.04,
    ]
    printed_low = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, *[0] * 8]  # from memory

    chart = cusum(CUSUM_SERIES, 325, sigma, slack=0.3175 / sigma, decision=4.1959 / sigma)

    assert chart.high * sigma == pytest.approx(printed_high, abs=0.0051)
    assert chart.low * sigma == pytest.approx(printed_low, abs=0.0076)
    assert chart.signals[0].index + 1 == 14
    assert chart.signals[0].rule == HIGH_SUM_BEYOND_LIMIT


# Printed in the e-Handbook 6.3.2.1, ASTM E2587 and ISO 7870-2, for 2 to 10 values; from memory.
TABLE = {
    "d2": (1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078),
    "d3": (0.853, 0.888, 0.880, 0.864, 0.848, 0.833, 0.820, 0.808, 0.797),
    "c4": (0.7979, 0.8862, 0.9213, 0.9400, 0.9515, 0.9594, 0.9650, 0.9693, 0.9727),
    "A2": (1.880, 1.023, 0.729, 0.577, 0.483, 0.419, 0.373, 0.337, 0.308),
    "A3": (2.659, 1.954, 1.628, 1.427, 1.287, 1.182, 1.099, 1.032, 0.975),
    "B3": (0, 0, 0, 0, 0.030, 0.118, 0.185, 0.239, 0.284),
    "B4": (3.267, 2.568, 2.266, 2.089, 1.970, 1.882, 1.815, 1.761, 1.716),
    "D3": (0, 0, 0, 0, 0, 0.076, 0.136, 0.184, 0.223),
    "D4": (3.267, 2.575, 2.282, 2.114, 2.004, 1.924, 1.864, 1.816, 1.777),
}


@pytest.mark.parametrize("name", TABLE)
def test_constants_table(name):
    """Computed constants round to the printed ones (one unit in the last place, as tables differ by it)."""
    places = 1e-4 if name == "c4" else 1e-3
    computed = [getattr(constants(n), name) for n in range(2, 11)]

    assert computed == pytest.approx(TABLE[name], abs=0.51 * places if name in {"d2", "d3", "c4"} else places)


def test_individuals_factor():
    """E2 for two values is printed 2.660, which is 3/1.128 (from memory); the exact constant is 2.6587."""
    exact = constants(2).E2
    assert exact == pytest.approx(2.6587, abs=5e-5)
    assert 3 / round(constants(2).d2, 3) == pytest.approx(2.660, abs=5e-4)


class TestPatternChances:
    """Nelson 1984: chance that a window of independent normal values shows the pattern (exact)."""

    def test_rise_by_counting(self):
        """Of the 720 orders of six values exactly two rise or fall throughout: the count is of points."""
        from itertools import permutations

        found = sum(bool(run_rules(order, 3.5, 99, rules=[RULES[2]])) for order in permutations(range(1, 7)))

        assert found == 2

    @pytest.mark.parametrize(
        ("rule", "chance"),
        [(RULES[0], 0.0027), (RULES[1], 0.0039), (RULES[2], 0.0028), (RULES[3], 0.0046), (RULES[6], 0.0033)],
    )
    def test_share_of_points(self, rule, chance):
        """In a long series of one process that share of points completes the pattern."""
        noise = np.random.default_rng(6).normal(size=1_000_000)

        share = len(run_rules(noise, 0, 1, rules=[rule])) / noise.size

        assert share == pytest.approx(chance, rel=0.07)


class TestRunLengths:
    """Average number of points until the first signal, by simulation with a fixed seed."""

    @staticmethod
    def average(first_signal, shift, runs=1500, length=120, seed=7):
        """Mean run length; every run must signal within `length`."""
        noise = np.random.default_rng(seed).normal(shift, 1, (runs, length))
        return np.mean([first_signal(row) + 1 for row in noise])

    @pytest.mark.parametrize(("shift", "published"), [(1.0, 10.4), (2.0, 4.01)])
    def test_cusum(self, shift, published):
        """Montgomery, Table 9.3: slack 0.5, decision 5, two-sided (from memory)."""
        found = self.average(lambda row: cusum(row, 0, 1).signals[0].index, shift)

        assert found == pytest.approx(published, rel=0.04)

    @pytest.mark.parametrize(("shift", "published"), [(1.0, 11.1), (2.0, 3.6)])
    def test_ewma(self, shift, published):
        """Lucas and Saccucci 1990, Table 3: weight 0.25, width 2.998, steady-state limits (from memory)."""
        found = self.average(
            lambda row: ewma(row, 0, 1, weight=0.25, width=2.998, steady_state=True).signals[0].index, shift
        )

        assert found == pytest.approx(published, rel=0.04)

    def test_single_points_after_a_shift(self):
        """e-Handbook 6.3.2: a shift of 2 sigma shows on a three-sigma chart after 6.30 points."""
        found = self.average(lambda row: run_rules(row, 0, 1, rules=[RULES[0]])[0].index, 2.0)

        assert found == pytest.approx(6.30, rel=0.05)

    def test_rules_one_and_five_at_rest(self):
        """Champ and Woodall 1987, Table 1: one of one or two of three, 225.44 points (from memory)."""
        noise = np.random.default_rng(8).normal(size=400_000)
        alarms = run_rules(noise, 0, 1, rules=[RULES[0], RULES[4]])

        starts, last = 0, -1
        for signal in alarms:
            # a chart restarts after an alarm: a pattern reaching back across it is not a new one
            if signal.index - last >= 3 or (signal.index > last and abs(noise[signal.index]) > 3):
                starts, last = starts + 1, signal.index

        assert noise.size / starts == pytest.approx(225.44, rel=0.06)
