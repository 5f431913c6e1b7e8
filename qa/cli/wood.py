"""`dryfit wood`: calculators for moisture and movement."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, print_json, rounded

if TYPE_CHECKING:
    from qa.wood import Species

wood = typer.Typer(
    name="wood",
    help="Say how moist wood becomes, and how much it moves.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
TempOption = Annotated[float, typer.Option("--temp", help="Degrees Celsius.")]


def add_to(app: typer.Typer) -> None:
    app.add_typer(wood)


@wood.command()
def emc(
    rh: Annotated[float, typer.Option("--rh", help="Relative humidity, per cent.")],
    temp: TempOption = 21.0,
    as_json: JsonOption = False,
) -> None:
    """Say what moisture content wood settles at.

    By the USDA Wood Handbook, equation 4-5.

    Example: dryfit wood emc --rh 65 --temp 21
    """
    from qa.wood import equilibrium_moisture

    found = equilibrium_moisture(rh, temp)
    if as_json:
        print_json({"rh_percent": rh, "temp_c": temp, "equilibrium_moisture_percent": rounded(found)})
    else:
        typer.echo(f"{found:.1f} % moisture content at {rh:g} % RH and {temp:g} °C, give or take 1 %")


@wood.command()
def movement(
    size: Annotated[float, typer.Option("--size", help="The size, mm.")],
    species: Annotated[str, typer.Option("--species", help="Such as walnut or 'sitka spruce'.")],
    direction: Annotated[str, typer.Option("--direction", help="radial, tangential or longitudinal.")],
    from_rh: Annotated[float, typer.Option("--from-rh", help="Relative humidity before, per cent.")],
    to_rh: Annotated[float, typer.Option("--to-rh", help="Relative humidity after, per cent.")],
    temp: TempOption = 21.0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how much a size moves from one humidity to another.

    Once the wood has settled, by the USDA Wood Handbook, chapter 13.

    Example: dryfit wood movement --species walnut --direction tangential --size 70 --from-rh 65 --to-rh 45
    """
    from qa.errors import QaError
    from qa.wood import coefficient, equilibrium_moisture, size_at
    from qa.wood import species as look_up

    if direction not in ("radial", "tangential", "longitudinal"):
        raise QaError(f"no direction is called {direction!r}; known: radial, tangential, longitudinal")
    kind = look_up(species, _own_species(shop))
    per_percent = coefficient(kind, direction)  # type: ignore[arg-type]  # looked at above
    before, after = equilibrium_moisture(from_rh, temp), equilibrium_moisture(to_rh, temp)
    change = size_at(size, per_percent, from_rh, to_rh, temp) - size
    if as_json:
        print_json(
            {"species": kind.name, "direction": direction, "coefficient": per_percent, "size": size,
             "from_moisture_percent": rounded(before), "to_moisture_percent": rounded(after),
             "movement": rounded(change), "size_after": rounded(size + change), "source": kind.source}
        )  # fmt: skip
        return
    typer.echo(
        f"{kind.name}, {direction}: {size:g} mm moves {change:+.2f} mm to {size + change:.2f} mm "
        f"({before:.1f} to {after:.1f} % moisture content; {per_percent:g} per 1 %: {kind.source})"
    )


def _own_species(shop: str | None) -> dict[str, Species] | None:
    """The shop's own species where there is a shop; the calculator works without one."""
    from qa.errors import ShopError
    from qa.shop import find_folder, load_shop

    try:
        folder = find_folder(shop)
    except ShopError:
        if shop:
            raise
        return None
    return load_shop(folder).species()
