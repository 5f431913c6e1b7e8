"""The maker's override of a closed gate: what is kept of it, and for how long it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from qa.bench.planing import PLANED, TAKEN_BACK
from qa.gate.evidence import Climate, Evidence
from qa.gate.reasons import Reason
from qa.plans.plan import Part
from qa.record import BenchEvent

HOLDS = dt.timedelta(days=1)
"""How long an override holds: for the glue-up at hand. Common practice, no source."""


def overridden(
    found: Sequence[Reason], last_row: int, plan: str, climate: Climate | None
) -> dict[str, object]:
    """What an override is kept with: the reasons it was for, and what they were told from.

    `last_row` is that of `Evidence.last_row` when they were told, `plan` the revision's digest.
    """
    named = [{"about": item.about, "why": item.why, "rank": item.rank} for item in found]
    air = {"rh_percent": climate.rh_percent} if climate else {}
    return {"reasons": named, "last_row": last_row, "plan": plan} | air


def in_force(evidence: Evidence, part: Part, found: Sequence[Reason]) -> BenchEvent | None:
    """The override that covers every reason; None where there is no reason, or none is covered by it.

    It holds for a day at most: until the part or one it meets is read or planed again, or the plan is
    changed; and for the air it was given for, or better.
    """
    made = [item for item in evidence.events if item.kind == "override" and item.part == part.name]
    holding = [item for item in made if not _over(evidence, part, item)]
    covering = [item for item in holding if all(_covers(evidence, item, reason) for reason in found)]
    return covering[-1] if found and covering else None


def _over(evidence: Evidence, part: Part, item: BenchEvent) -> bool:
    """Whether what it was given for is no more."""
    if evidence.now - dt.datetime.fromisoformat(item.at) > HOLDS:
        return True
    if item.body.get("plan", evidence.plan.digest) != evidence.plan.digest:
        return True
    names, last_row = {one.name for one in evidence.concerned(part)}, item.body.get("last_row")
    if isinstance(last_row, int):
        read = evidence.last_row(part) > last_row
    else:  # one that was kept before it told
        read = any(row.part in names and row.taken_at > item.at for row in evidence.readings)
    planed = [each for each in evidence.events if each.kind in (PLANED, TAKEN_BACK) and each.part in names]
    return read or any(each.sequence > item.sequence for each in planed)


def _covers(evidence: Evidence, item: BenchEvent, reason: Reason) -> bool:
    """Whether an override was for a reason; one that names nothing is for all."""
    named = item.body.get("reasons")
    if not isinstance(named, list):
        return True
    own = [each for each in named if isinstance(each, Mapping) and each.get("about") == reason.about]
    if not any(each.get("rank", reason.rank) == reason.rank for each in own):
        return False
    return reason.about != "climate" or _no_worse(evidence, item.body.get("rh_percent"))


def _no_worse(evidence: Evidence, then: object) -> bool:
    """Whether the room's air lies no further out than it did `then` (per cent), on the same side."""
    if evidence.climate is None or not isinstance(then, int | float):
        return True
    low, high = evidence.plan.reference.glue_rh_percent
    return min(then, low) <= evidence.climate.rh_percent <= max(then, high)
