"""Writes a starter shop: a commented shop.toml and one commented plan, both invented."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from qa.errors import ShopError
from qa.plans.planned import unknown

STARTERS = {
    "tenor-ukulele": ("tenor ukulele, sizes in mm", "tail-block"),
    "parlour-guitar": ("parlour guitar with steel strings, sizes in mm", "neck-block"),
    "lap-dulcimer": ("lap dulcimer, sizes in inches", "head-block"),
}
"""The starter plans by name: what each is of, and the part to measure first."""
UNITS = ("mm", "in")
_COMMENTED_URL = '# url = "/dev/ttyUSB0"            # a serial device, or socket://host:port\n'


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a starter shop is to be: its name, the unit lengths are shown in, its caliper, its plan.

    Without `caliper_url` readings are typed; `profile` is how the caliper writes its readings.
    """

    name: str = "My shop"
    unit: str = "mm"
    starter: str = "tenor-ukulele"
    caliper_url: str = ""
    profile: str = "text-line"

    def check(self) -> None:
        """ShopError where one of these is not usable."""
        from drivers.frames import profiles

        if not self.name.strip() or len(self.name.splitlines()) != 1:
            raise ShopError("a shop's name is one line of text")
        for what, name, known in (
            ("unit", self.unit, UNITS),
            ("starter plan", self.starter, STARTERS),
            ("profile", self.profile, profiles()),
        ):
            if name not in known:
                raise ShopError(unknown(what, name, known))


def write_starter(folder: Path, wanted: Wanted | None = None) -> list[Path]:
    """Write the starter files into a folder and give their paths.

    ShopError where the folder already holds such a file or cannot be written, or `wanted` is not usable.
    """
    chosen = wanted or Wanted()
    chosen.check()
    files = {
        folder / "shop.toml": _shop(chosen),
        folder / "plans" / f"{chosen.starter}.toml": starter_plan(chosen.starter),
    }
    for target in files:
        if target.exists():
            raise ShopError(f"{folder} already holds a {target.relative_to(folder)}; name another folder")
    try:
        for target, text in files.items():
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ShopError(f"{folder} cannot be written: {error.strerror}; name another folder") from error
    return list(files)


def starter_plan(name: str) -> str:
    """The text of a starter plan; ShopError where there is none of that name."""
    if name not in STARTERS:
        raise ShopError(unknown("starter plan", name, STARTERS))
    return _text(f"{name}.toml")


def _text(name: str) -> str:
    return (resources.files("qa") / "starter_files" / name).read_text(encoding="utf-8")


def _shop(wanted: Wanted) -> str:
    """shop.toml with its comments, and with what is wanted in it."""
    import tomlkit

    text = _text("shop.toml")
    if wanted.caliper_url:
        text = text.replace(_COMMENTED_URL, 'url = ""\n')
    document = tomlkit.parse(text)
    caliper = document["instruments"]["caliper-1"]
    document["name"], document["unit"] = wanted.name.strip(), wanted.unit
    caliper["profile"] = wanted.profile
    if wanted.caliper_url:
        caliper["url"] = wanted.caliper_url
    return tomlkit.dumps(document)
