"""Drift in plain sentences: each series, each cause, and what the shop's machines show no sign of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from drivers.lengths import format_length
from qa.causes.words import evidence, strength, titled
from qa.characteristics.base import MILLION
from qa.drift.chart import FEWEST, LONG_BASELINE
from qa.drift.hold import FEWEST as FEWEST_TO_HOLD
from qa.drift.season import batches

if TYPE_CHECKING:
    from qa.causes.likely import Cause
    from qa.drift.hold import Hold
    from qa.drift.report import DriftReport, SeriesReport
    from qa.drift.season import Batch
    from qa.shop import Shop

Say = Callable[[float], str]
NAMED = 6
"""Builds named one by one in a sentence; of more, only the newest."""


def sayer(shop_unit: str) -> Say:
    """Says lengths in the shop's unit with their sign, to 0.01 mm or a tenth of a thou."""

    def say(value: float) -> str:
        fine = 10_000 if shop_unit == "mm" else 2_540
        amount = round(abs(value) * MILLION / fine) * fine
        return f"{'-' if value < 0 and amount else '+'}{format_length(amount, shop_unit)}"

    return say


def _plain(say: Say, value: float) -> str:
    return say(abs(value)).lstrip("+")


def series_sentences(found: SeriesReport, causes: Sequence[Cause], say: Say) -> list[str]:
    """A series in a few sentences, the most important first; numbers are distances from target."""
    track = found.track
    if track.unit != "mm":
        say = _other_unit(track.unit)
    if not track.made:
        return [f"No build of {track.short} can be charted yet.", *map(_sentence, found.why)]
    said = [_verdict(found, causes)]
    said += [_in_numbers(found, say)]
    said += _variation(found, say)
    said += _changed(found, say)
    said += _promised(found, say)
    said += [_sentence(found.scaled.says)] if found.scaled.says else []
    return said + [_sentence(why) for why in found.why]


def _other_unit(unit: str) -> Say:
    return lambda value: f"{value:+.2f} {unit}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?')) else '.'}"


def _verdict(found: SeriesReport, causes: Sequence[Cause]) -> str:
    builds, alarms = found.track.builds, found.chart.alarms
    spoken = [builds[alarm.index] for alarm in alarms]
    told = [cause for cause in causes if found.track.name in cause.series]
    explained = [c for c in told if any(_covers(c, builds, alarm.index) for alarm in alarms[:1])]
    alone = [builds[a.index] for a in alarms if not any(_covers(c, builds, a.index) for c in told)]
    if len(builds) < FEWEST:
        return f"Too few builds to chart: {len(builds)}, and it takes {FEWEST}."
    if found.moved:
        chart = f"the chart first speaks at {spoken[0]}" if spoken else "no single build is beyond its limits"
        return f"It moved: {chart}{_because(explained)}."
    if not spoken:
        own = [cause for cause in told if cause.kind in ("bench", "machine", "humidity")]
        shows = f"; but {' and '.join(map(titled, own))} shows in it" if own else ""
        return f"{'No build is' if own else 'Nothing here: no build is'} beyond its limits{shows}."
    if not alone:
        return f"Nothing of its own: the chart speaks at {_named(spoken)}{_because(told)}."
    return (
        f"Nothing clear: the chart speaks at {_named(alone)}, which among so many series may well be "
        "chance; watch the next builds."
    )


def _named(builds: Sequence[str]) -> str:
    """Builds by name, of many only the newest."""
    if len(builds) <= NAMED:
        return ", ".join(builds)
    return f"{len(builds)} builds, lately {', '.join(builds[-3:])}"


def _covers(cause: Cause, builds: Sequence[str], index: int) -> bool:
    """Whether a cause was at work on a build, the average's memory of two builds counted in."""
    first = builds.index(cause.since) if cause.since in builds else 0
    last = builds.index(cause.until) + 2 if cause.until in builds else len(builds)
    return first <= index <= last


def _because(explained: Sequence[Cause]) -> str:
    return f", explained by {' and '.join(titled(cause) for cause in explained)}" if explained else ""


def _in_numbers(found: SeriesReport, say: Say) -> str:
    values, n = found.track.deviations, len(found.track.made)
    spread = f", standard deviation {_plain(say, float(values.std(ddof=1)))}" if n > 1 else ""
    return f"{n} build{'s' if n > 1 else ''}: mean {say(float(values.mean()))} from target{spread}."


def _variation(found: SeriesReport, say: Say) -> list[str]:
    part = found.variation
    if part is None or part.n < FEWEST:
        return []
    if part.hidden:
        noise = f"Your caliper hides it: readings alone scatter by {_plain(say, part.noise)}"
        most = f"the shop's own variation is at most {_plain(say, part.high)}"
        return [f"{noise}, which could account for all of it; {most}."]
    own = f"{_plain(say, part.sigma)} ({_plain(say, part.low)} to {_plain(say, part.high)})"
    noise = f"the readings' noise is {_plain(say, part.noise)}"
    return [f"Of that the shop's own variation is {own}; {noise}."]


def _changed(found: SeriesReport, say: Say) -> list[str]:
    change = found.trend.change if found.trend else None
    if change is None or not found.moved:
        return []
    builds = found.track.builds
    low, high = builds[max(0, change.low - 1)], builds[change.high]
    end = "" if change.last is None else f", until {builds[change.last]}"
    word = {"creep": "crept", "step": "stepped", "throughout": "moved"}[change.shape]
    return [f"It {word} by {say(change.amount)}, beginning between {low} and {high}{end}."]


def _promised(found: SeriesReport, say: Say) -> list[str]:
    if found.promise is None:
        return []
    start = found.chart.starts[-1]
    builds = f"the builds since {found.track.builds[start]}" if start else "these builds"
    words = f"From {builds} you could honestly promise ±{_plain(say, found.promise.plus_minus)}"
    able = found.capability
    if able is None:
        return [f"{words}."]
    low, high = able.ppk_interval
    return [f"{words}; capability Ppk {able.ppk:.2f} ({low:.2f} to {high:.2f})."]


def cause_sentences(found: DriftReport, say: Say) -> list[str]:
    """The likely causes with their evidence, or why none is named."""
    if found.causes_why:
        return [_sentence(found.causes_why)]
    if not found.causes:
        return ["Nothing moved more than chance would have it, so there is no cause to name."]
    return [
        f"{titled(cause)}. {_sentence(evidence(cause, found.tracks, say))} ({strength(cause)})"
        for cause in found.causes
    ]


def quiet_sentences(found: DriftReport, say: Say) -> list[str]:
    """Each machine without a sign of drift, and how small a shift would have shown."""
    blamed = {cause.name for cause in found.causes if cause.kind == "machine"}
    own = {name for cause in found.causes if cause.kind in ("time", "bench") for name in cause.series}
    said = []
    for machine in sorted({one.machine for t in found.tracks for one in t.made if one.machine} - blamed):
        made = [s for s in found.series if any(one.machine == machine for one in s.track.made)]
        moved = [s.track.short for s in made if (s.moved and s.track.absolute) or s.track.name in own]
        long = [s for s in made if len(s.track.made) >= LONG_BASELINE]
        if moved:
            said.append(f"{machine}: no drift common to what it makes; by itself moved {', '.join(moved)}.")
        elif long:
            least = min(2 * float(s.track.deviations.std(ddof=1)) for s in long)
            said.append(
                f"{machine}: no evidence of drift in {len(made)} series; in the steadiest a lasting shift of "
                f"{_plain(say, least)} would most likely have shown within four builds."
            )
        elif made:
            said.append(f"{machine}: no evidence of drift, from few builds yet.")
    return said


def season_sentences(found: DriftReport, shop: Shop, say: Say) -> list[str]:
    """Batches cut with the room out of its band, by the record of the room and what the wood did since."""
    bands = {model: plans[-1].reference.glue_rh_percent for model, plans in shop.plans.items()}
    return [_season(batch, say) for batch in batches(found.tracks, bands)]


def _season(batch: Batch, say: Say) -> str:
    low, high = batch.band
    moved = "swelled" if batch.moved > 0 else "shrank"
    did = f"until glue its {batch.series} {moved} {_plain(say, batch.moved)} (foretold {say(batch.foretold)})"
    if not batch.shown:
        did = "until glue it moved no more than the readings' noise"
    return (
        f"{batch.builds[0]} to {batch.builds[-1]} were cut {batch.was}: the room stood at "
        f"{batch.rh_percent:.0f} %, the band is {low:.0f} to {high:.0f}; {did}."
    )


def hold_sentence(held: Hold, say: Say) -> str:
    """Whether a size is held within what was asked for, and why."""
    wanted = _plain(say, held.wanted)
    if held.needed is None:
        few = f"{held.answer} ({held.builds}; it takes {FEWEST_TO_HOLD})"
        return f"{held.series}: {few} to say anything of ±{wanted}."
    proven = f"single readings prove it for {held.decided:.0%} of places"
    need = f"these builds need ±{_plain(say, held.needed)}"
    return f"{held.series} within ±{wanted}: {held.answer}; {need}, and {proven}."
