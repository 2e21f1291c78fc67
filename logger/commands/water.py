"""``evencup water``: grams and millilitres of hot water, and at which temperature it boils at the venue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Altitude

if TYPE_CHECKING:
    from logger.cup.settings import Settings

EXAMPLE = "Example: evencup water --grams 250 --celsius 93 --altitude 1500"


def water(
    grams: Annotated[
        float | None, typer.Option("--grams", metavar="G", help="Water by weight.", min=0.0, max=100_000.0)
    ] = None,
    millilitres: Annotated[
        float | None,
        typer.Option("--millilitres", metavar="ML", help="Water by volume.", min=0.0, max=100_000.0),
    ] = None,
    celsius: Annotated[
        float, typer.Option("--celsius", metavar="C", help="Its temperature, °C.", min=0.0, max=100.0)
    ] = 20.0,
    altitude_m: Altitude = None,
    pressure_hpa: Annotated[
        float | None,
        typer.Option("--pressure", metavar="HPA", help="Its air, hPa, as a barometer there shows it."),
    ] = None,
    save: Annotated[bool, typer.Option("--save", help="Keep altitude or pressure as your venue's.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON.")] = False,
) -> None:
    """Say how many mL some grams of water are at a temperature, and how hot water gets at the venue."""
    from dataclasses import replace

    from logger.cup.settings import read_settings, save_venue, settings_file
    from logger.errors import BadInputError

    settings = read_settings()
    if altitude_m is not None or pressure_hpa is not None:
        settings = replace(settings, altitude_m=altitude_m, pressure_hpa=pressure_hpa)
    elif save:
        raise BadInputError("--save", "there is nothing to keep", "Say --altitude 1500, or --pressure 845.")
    facts = _facts(grams, millilitres, celsius, settings)
    if save:
        save_venue(settings_file(), altitude_m=altitude_m, pressure_hpa=pressure_hpa)
        typer.echo(f"kept in {settings_file()}", err=True)
    _print(facts, settings, json=json)


def _facts(
    grams: float | None, ml: float | None, celsius: float, settings: Settings
) -> dict[str, float | None]:
    """Work out all that was asked for.

    :raises BadInputError: when the venue is no place to brew
    """
    from logger.cup import millilitres, water_density_kg_m3
    from logger.errors import BadInputError

    try:
        boils_c = settings.boils_c
    except ValueError as error:
        option = "--altitude" if settings.pressure_hpa is None else "--pressure"
        raise BadInputError(option, str(error), "Write the venue's, as --altitude 1500.") from None
    density = water_density_kg_m3(celsius)
    grams = grams if grams is not None else None if ml is None else ml * density / 1000.0
    return {
        "celsius": celsius,
        "density_kg_m3": round(density, 3),
        "grams": None if grams is None else round(grams, 3),
        "millilitres": None if grams is None else round(millilitres(grams, celsius), 3),
        "altitude_m": settings.altitude_m,
        "pressure_hpa": settings.pressure_hpa,
        "boils_c": None if boils_c is None else round(boils_c, 2),
    }


def _print(facts: dict[str, float | None], settings: Settings, *, json: bool) -> None:
    import json as json_format

    from rich.console import Console

    from logger.show.terminal.text import print_words

    if json:
        typer.echo(json_format.dumps(facts, allow_nan=False))
        return
    console, celsius = Console(), facts["celsius"]
    grams, ml, boils_c = facts["grams"], facts["millilitres"], facts["boils_c"]
    if grams is not None and ml is not None:
        print_words(console, f"{grams:.1f} g of water at {celsius:g} °C are {ml:.1f} mL.")
    elif boils_c is None or celsius != 20.0:
        print_words(console, f"Water at {celsius:g} °C: {facts['density_kg_m3']:.2f} g in each litre.")
    if boils_c is None:
        print_words(console, "Say --altitude, in m, to hear at which temperature water boils there.")
        return
    if settings.pressure_hpa is not None:
        print_words(console, f"Under {settings.pressure_hpa:g} hPa water boils at {boils_c:.1f} °C.")
    else:
        print_words(
            console,
            f"At {settings.altitude_m:g} m water boils at {boils_c:.1f} °C on an average day; weather "
            f"moves that by "
            "some 0.4 °C.",
        )
    print_words(console, "Steam and water near boiling scald.", "dim")
