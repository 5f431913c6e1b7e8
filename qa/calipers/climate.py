"""The room's air and the wood's moisture, as read by meters, into the record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING

from qa.errors import ShopError
from qa.record import BenchEvent, utc

if TYPE_CHECKING:
    from qa.instruments import Instrument
    from qa.store.store import Store


def keep_climate(
    store: Store,
    instrument: Instrument | None = None,
    *,
    rh: float | None = None,
    temp: float | None = None,
    moisture: float | None = None,
    text: str = "",
    by: str = "",
    now: dt.datetime | None = None,
) -> Mapping[str, object]:
    """Keep one look at the meters, and give what was kept.

    `rh` is the relative humidity and `moisture` that of a piece of wood, in per cent as shown; the
    instrument's correction is added to what it showed, and both are kept (`rh_read`, `rh_percent`). `temp`
    is in degrees Celsius. ShopError for nothing to keep, or what no meter of that sort can show.
    """
    if rh is None and moisture is None:
        raise ShopError("there is nothing to keep: give --rh, or --moisture, or an instrument with a line")
    if instrument is not None and instrument.quantity != "percent":
        raise ShopError(
            f"{instrument.id} measures {instrument.quantity}; give a hygrometer or moisture meter "
            'quantity = "percent" in shop.toml'
        )
    correction = instrument.correction if instrument else 0.0
    body: dict[str, object] = {}
    for name, shown in (("rh", rh), ("moisture", moisture)):
        if shown is not None:
            _refuse_beyond(name, shown, shown + correction, instrument)
            body |= {f"{name}_read": shown, f"{name}_percent": round(shown + correction, 6)}
    if temp is not None:
        if not -30 <= temp <= 60:
            raise ShopError(f"{temp:g} °C is no temperature of a workshop; give degrees Celsius")
        body["temp_c"] = temp
    name = instrument.id if instrument else ""
    at = utc(now or dt.datetime.now(dt.UTC))
    store.add_event(BenchEvent(at, "climate", instrument=name, text=text, by=by, body=body))
    return body


def _refuse_beyond(name: str, shown: float, corrected: float, instrument: Instrument | None) -> None:
    low, high = (instrument.span if instrument and instrument.span else None) or (0.0, 100.0)
    what = "relative humidity" if name == "rh" else "moisture"
    if not low <= shown <= high:
        raise ShopError(f"{shown:g} % is no {what} that this meter can show ({low:g} to {high:g} %)")
    if instrument and not 0 <= corrected <= 100:
        raise ShopError(f"{shown:g} % is {corrected:g} % with the correction of {instrument.id}: no {what}")
