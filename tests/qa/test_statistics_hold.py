"""Every statistic of drift and study, on any numbers at all: a finite answer or a refusal, nothing else."""

from dataclasses import fields, is_dataclass

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa import capability, charts, repeatability, trend
from qa.errors import CannotSay

ODD = st.sampled_from([0.0, 18.0, 18.01, 18.010000000000002, 1e-320, 1e-160, 1e99, -1e99])
ANY = (
    st.lists(ODD, max_size=14)
    | st.lists(st.floats(-1e100, 1e100) | ODD, max_size=14)
    | st.lists(st.floats(17, 19), max_size=14)
    | st.lists(st.floats(-1e-90, 1e-90), max_size=14)
    | st.lists(st.floats(), max_size=3)
)


def as_study(values):
    """The values dealt to two parts, two appraisers, and as many trials as there are."""
    cells = range(len(values))
    return pd.DataFrame(
        {
            "part": [i % 2 for i in cells],
            "appraiser": [i // 2 % 2 for i in cells],
            "trial": [i // 4 for i in cells],
            "value": values,
        }
    )


QUESTIONS = {
    "individuals": charts.individuals,
    "ewma": lambda values: charts.ewma(values, 18, 0.1),
    "cusum": lambda values: charts.cusum(values, 18, 0.1),
    "self_starting": charts.self_starting,
    "self_starting_cusum": charts.self_starting_cusum,
    "run_rules": lambda values: charts.run_rules(values, 18, 0.1),
    "capability": lambda values: capability.capability(values, 17.9, 18.1),
    "capability, one limit": lambda values: capability.capability(values, None, 18.1),
    "honest_tolerance": lambda values: capability.honest_tolerance(values, 18),
    "anderson_darling": capability.anderson_darling,
    "probability_plot": capability.probability_plot,
    "theil_sen": lambda values: trend.theil_sen(range(len(values)), values),
    "mann_kendall": trend.mann_kendall,
    "straight_line": lambda values: trend.straight_line(range(len(values)), values),
    "change_point": trend.change_point,
    "summary": trend.summary,
    "crossed_study": lambda values: repeatability.crossed_study(as_study(values)),
    "average_and_range": lambda values: repeatability.average_and_range(as_study(values)),
    "one_person_study": lambda values: repeatability.one_person_study(
        as_study(values).drop(columns="appraiser").assign(part=1, trial=range(len(values)))
    ),
    "reference_study": lambda values: repeatability.reference_study(values, 18, step=0.01),
    "compliance_study": lambda values: repeatability.compliance_study(values, values[::-1], step=0.01),
}


def numbers(answer):
    """Every number of an answer, but the scores and slopes documented to be without one."""
    if isinstance(answer, charts.SelfStartingChart):
        yield from answer.q[answer.start :]
    elif isinstance(answer, trend.TheilSen):
        yield from (answer.slope, answer.intercept)
    elif is_dataclass(answer):
        for field in fields(answer):
            yield from numbers(getattr(answer, field.name))
    elif isinstance(answer, (list, tuple)):
        for item in answer:
            yield from numbers(item)
    elif isinstance(answer, np.ndarray):
        yield from answer
    elif isinstance(answer, (int, float)):
        yield answer


@pytest.mark.parametrize("name", QUESTIONS)
@settings(max_examples=80, deadline=None)
@given(values=ANY)
def test_finite_or_refused(name, values):
    """Numbers of any size, equal, missing or infinite: never NaN, never a warning, never another error."""
    try:
        answer = QUESTIONS[name](values)
    except CannotSay as refusal:
        answer, said = None, str(refusal)
    else:
        said = "a whole answer, all of it finite"

    assert len(said.split()) > 4
    assert np.isfinite(np.array(list(numbers(answer)), dtype=float)).all()


# differences from targets, as binary arithmetic leaves them
EQUAL = [18.21 - 18.0, 0.21, 17.96 - 17.75, 0.1 + 0.11, 0.21, 20.21 - 20.0, 0.21, 0.21]


class TestRoundingIsNotSpread:
    """Readings that are equal but for the rounding of arithmetic on them."""

    def test_not_all_the_same_number(self):
        """The example does differ in its last digits."""
        assert len(set(EQUAL)) > 2

    @pytest.mark.parametrize(
        "name",
        [
            "individuals",
            "self_starting",
            "capability",
            "honest_tolerance",
            "anderson_darling",
            "change_point",
        ],
    )
    def test_refused_as_equal(self, name):
        """No chart or index is built on rounding errors."""
        with pytest.raises(CannotSay, match="the same"):
            QUESTIONS[name](EQUAL)

    def test_ties_stay_ties(self):
        """Rounding errors neither rise nor fall."""
        assert trend.mann_kendall(EQUAL).s == 0
        rising = [0.21 + i * 1e-16 for i in range(0, 60, 6)]
        assert charts.run_rules(rising, 0.5, 1, rules=[charts.RULES[2]]) == []
