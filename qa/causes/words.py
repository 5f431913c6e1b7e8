"""Likely causes in plain sentences: the evidence, how strong, and what would tell two near ones apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from qa.drift.track import MEAN
from qa.wording import listed

if TYPE_CHECKING:
    from qa.causes.likely import Cause
    from qa.drift.track import Made, Track

MOST_NAMED = 6
"""Of more series, or builds, not each is named."""
Say = Callable[[float], str]
"""An amount in the shop's unit with its sign."""

TESTS = {
    "instrument": "measure a gauge block with {name}, and swap calipers for two parts",
    "machine": "cut two strips of scrap at one setting of the {name} and read both ends with both calipers",
    "bench": "make two parts at the other bench with the same machine and caliper",
    "humidity": "read one part twice, a week apart, and note the room's humidity each time",
    "time": "change one thing at a time, and note what was changed as a fix",
}


def titled(cause: Cause) -> str:
    """The cause as a title: "machine: table saw"."""
    return f"{cause.kind}: {_short(cause.name)}"


def evidence(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    """What the readings show for a cause, in one or two sentences."""
    return {
        "instrument": _instrument,
        "machine": _machine,
        "bench": _bench,
        "humidity": _humidity,
        "time": _time,
    }[cause.kind](cause, tracks, say)


def strength(cause: Cause) -> str:
    """How sure, and what would make it surer."""
    often = "less than 0.1 %" if cause.p < 0.001 else f"at most {100 * cause.p:.1f} %"
    chance = f"chance alone would bring that forth in {often} of shops like this"
    if not cause.settled and cause.rival:
        other = f"{cause.rival.kind} ({_short(cause.rival.name)})"
        more = f"needs about {cause.more_builds} more builds" if cause.more_builds else "needs more builds"
        return f"can't tell yet: {other} explains it nearly as well; {more}; {apart(cause)}"
    looks = (
        "found at two looks in a row" if cause.looks > 1 else "seen at this look only: look again next build"
    )
    return f"{chance}; {looks}"


def apart(cause: Cause) -> str:
    """What to do at the bench to tell the two best causes apart."""
    kinds = [cause.kind, *([cause.rival.kind] if cause.rival else [])]
    first = next(kind for kind in ("instrument", "machine", "bench", "humidity", "time") if kind in kinds)
    name = cause.name if first == cause.kind else (cause.rival.name if cause.rival else "")
    return TESTS[first].format(name=name)


def _instrument(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    builds = _touched(cause, tracks, lambda one: one.instrument == cause.name)
    wrong = "high" if cause.amount > 0 else "low"
    tapers = sum(not track.absolute for track in tracks)
    return (
        f"{cause.name} read {say(abs(cause.amount)).lstrip('+')} {wrong} on {_span(builds)}: all "
        f"{len(cause.series)} sizes it read moved alike, whatever made them, while sizes read with others "
        f"did not, and the {tapers} differences, which hold no zero offset, do not show it"
    )


def _machine(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    both = "both" if len(cause.series) == 2 else "all"
    others = sum(track.absolute and track.name not in cause.series for track in tracks)
    crept = "crept" if cause.shape == "creep" else "moved"
    far = say(cause.amount)
    until = "" if cause.until is None else f" to {cause.until}"
    back = _next_build(cause.until, tracks)
    reset = f", and were back before {back}" if back else ""
    return (
        f"{_named(cause.series)} {crept} together by {far} from about {cause.since}{until}{reset}; {both} "
        f"come from the {cause.name}. The other {others} sizes, read with the same calipers, did not follow, "
        "so it is not the caliper"
    )


def _bench(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    bench, _, name = cause.name.partition(": ")
    track = next(track for track in tracks if track.name == name)
    own = [one for one in track.made if one.bench == bench]
    at = {one.build: i for i, one in enumerate(own)}
    first, last = at[cause.since], at[cause.until] if cause.until else len(own) - 1
    during, after = own[first : last + 1], own[last + 1 :]
    others = [one for one in track.made if one.bench != bench]
    ends = f", then {say(_mean(after))} since {after[0].build}" if after else ""
    span = f"from {during[0].build} to {during[-1].build}"
    made = f"{bench} makes {_short(name)} {say(_mean(during))} on average {span}{ends}; other benches"
    if track.absolute:
        return f"{made} {say(_mean(others))}"
    return (
        f"{made} make it {say(_mean(others))} on the same plan. A difference within one part, it is not a "
        "caliper's zero"
    )


def _humidity(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    return (
        f"{_named(cause.series)} moved with {cause.name}, by {cause.amount:.0%} (give or take "
        f"{2 * cause.error:.0%}) of what the wood's movement coefficient and the recorded humidity foretell"
    )


def _time(cause: Cause, tracks: Sequence[Track], say: Say) -> str:
    until = "on" if cause.until is None else f"to {cause.until}"
    return (
        f"{_short(cause.name)} moved by {say(cause.amount)} from {cause.since} {until}, by itself: no "
        "caliper, machine, bench or humidity recorded explains it"
    )


def _touched(cause: Cause, tracks: Sequence[Track], own: Callable[[Made], bool]) -> list[str]:
    """The builds of a cause, from its first to its last, that have a reading of their own."""
    found: dict[str, str] = {}
    for track in tracks:
        for one in track.made:
            if own(one) and track.absolute:
                found[one.build] = min(found.get(one.build, one.taken_at), one.taken_at)
    order = sorted(found, key=lambda build: found[build])
    if cause.since not in order:
        return [cause.since]
    last = order.index(cause.until) if cause.until in order else len(order) - 1
    return order[order.index(cause.since) : last + 1]


def _next_build(build: str | None, tracks: Sequence[Track]) -> str | None:
    for track in tracks:
        if build in track.builds[:-1]:
            return track.builds[track.builds.index(build) + 1]
    return None


def _mean(made: Sequence[Made]) -> float:
    return sum(one.deviation for one in made) / len(made) if made else 0.0


def _short(series: str) -> str:
    """A series without "mean of stations", which goes without saying."""
    return series.removesuffix(f" {MEAN}")


def _named(series: Sequence[str]) -> str:
    return listed([_short(name) for name in series], MOST_NAMED)


def _span(builds: Sequence[str]) -> str:
    """Builds in order: each by name, of many the first and the last."""
    if len(builds) > MOST_NAMED:
        return f"{builds[0]} to {builds[-1]} ({len(builds)} builds)"
    return listed(builds)
