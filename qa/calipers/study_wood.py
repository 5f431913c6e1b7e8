"""The wood a study was done on: as its readings say, as it is asked for, and as the shop knows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qa.errors import CannotSay, ShopError
from qa.instruments import same_wood
from qa.plans.plan import unknown
from qa.wood import species_names

if TYPE_CHECKING:
    import pandas as pd

    from qa.shop import Shop

ANY = "any"
"""The wood of a study that names none."""


def on_one_wood(frame: pd.DataFrame, asked: str = "") -> tuple[pd.DataFrame, str]:
    """The readings of a study on one wood, and the wood's name; "" where nothing says which.

    `frame` may have a column `species`; "any" takes all of it. CannotSay where it names several woods and
    `asked` none of them.
    """
    if asked.strip().casefold() == ANY:
        return frame, ""
    named = frame["species"].map(_named) if "species" in frame.columns else frame["part"].map(lambda _: "")
    woods = list(dict.fromkeys(named))
    if not any(woods):
        return frame, _named(asked)
    if not asked and len(woods) == 1:
        return frame, woods[0]
    if asked and (own := [wood for wood in woods if same_wood(wood, asked)]):
        return frame[named.isin(own)], own[0]
    has = ", ".join(wood or "wood not named" for wood in woods)
    none = f", none on {asked}" if asked else ""
    raise CannotSay(f"the study has readings on {has}{none}: say which of those woods is meant, or any")


def _named(word: object) -> str:
    text = word.strip() if isinstance(word, str) else ""
    return "" if text.casefold() == ANY else text


def woods(shop: Shop) -> list[str]:
    """The woods of the shop's plans, in the order of the plans."""
    parts = (part for plans in shop.plans.values() for plan in plans for part in plan.parts.values())
    return list({name.casefold(): name for name in (part.species for part in parts) if name}.values())


def wood_of(shop: Shop, name: str) -> str:
    """A wood as the shop's plans name it, or as its figures do; "" for any.

    ShopError names the near ones where neither knows it, so that no study is kept that no part could use.
    """
    wanted = _named(name)
    if not wanted:
        return ""
    known = [*woods(shop), *species_names(shop.species())]
    for wood in known:
        if same_wood(wood, wanted):
            return wood
    raise ShopError(f"{unknown('wood', wanted, known)}; or keep the study for any wood")
