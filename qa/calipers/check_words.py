"""What a check of an instrument found, in plain sentences: its error, and what that throws doubt on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from qa.bench.speech import amount, signed
from qa.calipers.check import due
from qa.calipers.standing import EXACT

if TYPE_CHECKING:
    from qa.calipers.check import Rejudged
    from qa.calipers.standing import Check, Point
    from qa.instruments import Instrument

NO_CHECK_BEFORE = (
    "No failed check as found was kept before this: if it had to be set, what was read with it since its "
    "last good check cannot be judged again."
)
NOT_REWRITTEN = "No reading was rewritten. Read the parts again where you can."


def say_point(point: Point, instrument: Instrument) -> str:
    """Whether one reading of a known size is near enough."""
    return "good" if abs(point.error) <= instrument.max_permissible_error + EXACT else "too far off"


def say_check(instrument: Instrument, check: Check) -> str:
    """Whether the instrument passed, and when it is due again."""
    if not check.passed(instrument):
        return f"{instrument.id} fails: do not judge by it until it is set right."
    next_day = due(instrument, check)
    return f"{instrument.id} is good.{f' Next check due {next_day}.' if next_day else ''}"


def say_bias(instrument: Instrument, check: Check, unit: str) -> list[str]:
    """What the readings say of the error by size, and what they cannot say; lengths in `unit`."""
    bias = check.bias(instrument)
    mean, expanded = signed(bias.mean, instrument.unit, unit), amount(2 * bias.u_mean, instrument.unit, unit)
    if bias.line is None:
        told = f"Bias {mean} ± {expanded} at this size"
        return [
            f"{told}. One size cannot tell an offset from a scale error: read a second, far from the first."
        ]
    sizes = " to ".join(amount(size, instrument.unit, unit) for size in (bias.low, bias.high))
    told = f"Bias {mean} ± {expanded} on average from {sizes}"
    per = 1000 * bias.line.slope, 2000 * bias.line.u_slope * bias.widened
    scale = f"{per[0]:+.1f} ± {per[1]:.1f} in 1000"
    if bias.scaled:
        offset = signed(bias.line.intercept, instrument.unit, unit)
        lines = [f"{told}: an offset of {offset} and a scale error of {scale}."]
    else:
        lines = [f"{told}; no scale error is shown ({scale})."]
    if bias.straight is None:
        lines.append("Two sizes cannot tell whether the error grows evenly: a third would.")
    elif not bias.straight:
        lines.append(
            "The errors do not lie on a line: look for worn jaws, dirt, or a reading that went wrong."
        )
    return lines


NAMED = 8
"""As many builds are named one by one."""


def _named(builds: Sequence[str]) -> str:
    if len(builds) <= NAMED:
        return ", ".join(builds)
    return f"{len(builds)} builds, {builds[0]} to {builds[-1]},"


def say_again(again: Rejudged) -> list[str]:
    """Which readings a failed check throws doubt on, and how many verdicts change without its error."""
    since = f"its good check of {again.since[:10]}" if again.since else "the beginning: it has no good check"
    if not again.builds:
        return [f"Nothing was read with it since {since}."]
    verdicts = "verdict changes" if len(again.changed) == 1 else "verdicts change"
    taken = (
        f"1 reading in {_named(again.builds)} was"
        if again.readings == 1
        else f"{again.readings} readings in {_named(again.builds)} were"
    )
    told = f"{taken} taken with it since {since}: with its error taken off, {len(again.changed)} {verdicts}."
    if not again.left:
        return [told]
    left = "1 more was" if again.left == 1 else f"{again.left} more were"
    stay = "is left as it is" if again.left == 1 else "are left as they are"
    return [told, f"{left} not read between the jaws, and {stay}."]
