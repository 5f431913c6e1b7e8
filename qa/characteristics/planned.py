"""What several kinds read alike from a plan."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from qa.characteristics.base import MILLION, ONCE, Characteristic, Station
from qa.characteristics.fields import Fields


def places(fields: Fields) -> tuple[Station, ...]:
    """The stations named, or one nameless station where the plan names none."""
    fields.ask("stations", "names")
    return fields.stations() if "stations" in fields.table else ONCE


def lengths(fields: Fields, *names: str) -> dict[str, float] | None:
    """Lengths above zero by name, in millimetres; None where one is missing or wrong."""
    found = {name: fields.length(name, needed=True, positive=True) for name in names}
    known = {name: length / MILLION for name, length in found.items() if length is not None}
    return known if len(known) == len(names) else None


def at_most(
    fields: Fields, stations: tuple[Station, ...], options: Mapping[str, float | str] | None = None
) -> Characteristic | None:
    """A characteristic in millimetres that may reach `limit` at most."""
    limit = fields.length("limit", needed=True, positive=True)
    return limited(fields, limit, stations, options or {}, signed=False)


def limited(
    fields: Fields,
    limit: int | None,
    stations: tuple[Station, ...],
    options: Mapping[str, float | str] | None,
    *,
    signed: bool = True,
) -> Characteristic | None:
    """A characteristic in millimetres that may reach the limit, to either side of zero where it is signed.

    None where the limit, the stations or the options could not be read.
    """
    kind = fields.text("kind")
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if limit is None or options is None or not stations:
        return None
    target, lower = (0, -limit) if signed else (None, None)
    return Characteristic(
        fields.name, kind, "mm", target, lower, limit, stations, confidence=confidence, options=options
    )


def keep_words(fields: Fields, stations: tuple[Station, ...], words: Collection[str]) -> None:
    """Makes a problem of a station whose name is that of a value judged beside the stations."""
    for station in stations:
        if station.name in words:
            why = "is the name of what is judged of all stations together; call the station something else"
            fields.problem(f"stations.{station.name}", why)
