"""Control charts for few values: what drifts from build to build, and since when."""

from qa.charts.chart_constants import ChartConstants, constants
from qa.charts.cumulative_sum import CusumChart, cusum
from qa.charts.individuals_chart import IndividualsChart, individuals, moving_range_relative_error
from qa.charts.pattern_tests import RULES, run_rules
from qa.charts.q_statistics import SelfStartingChart, self_starting, self_starting_cusum
from qa.charts.signals import Signal
from qa.charts.weighted_average import EwmaChart, ewma

__all__ = [
    "RULES",
    "ChartConstants",
    "CusumChart",
    "EwmaChart",
    "IndividualsChart",
    "SelfStartingChart",
    "Signal",
    "constants",
    "cusum",
    "ewma",
    "individuals",
    "moving_range_relative_error",
    "run_rules",
    "self_starting",
    "self_starting_cusum",
]
