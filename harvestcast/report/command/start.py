"""The command that begins a garden folder, by flags or by questions."""

from __future__ import annotations

import datetime as dt
import os
import re
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import click

from harvestcast.errors import InputError
from harvestcast.report.command.terminal import FOLDER, Progress, command, show, show_json
from harvestcast.units import M_PER_FT


def elevation_in_metres(typed: str) -> float:
    """Return a typed elevation in metres; the unit must be said.

    Parameters
    ----------
    typed : str
        ``1300 ft``, ``1,300 feet``, ``400 m``.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        Where there is no number or no unit.

    Examples
    --------
    >>> elevation_in_metres("1,000 ft"), elevation_in_metres("400m")
    (304.8, 400.0)
    """
    match = re.fullmatch(
        r"\s*(-?\d{1,3}(?:,\d{3})+|-?\d+)(\.\d+)?\s*(ft|feet|foot|'|m|metres?|meters?)\s*",
        typed.lower(),
    )
    if not match:
        raise ValueError(
            f"{typed!r} is no elevation; write a number and its unit, such as 1300 ft or 400 m"
        )
    value = float(match[1].replace(",", "") + (match[2] or ""))
    metres = value * M_PER_FT if match[3][0] in "f'" else value
    if not -430 <= metres <= 5000:
        raise ValueError(f"{typed!r} is no elevation of a garden; from -430 m to 5,000 m")
    return round(metres, 6)


def latitude_of(typed: str) -> float:
    """Return a latitude as typed.

    Examples
    --------
    >>> latitude_of("-41.3"), latitude_of("44 N"), latitude_of("41 S")
    (-41.3, 44.0, -41.0)
    """
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*\N{DEGREE SIGN}?\s*([ns]?)\s*", typed.lower())
    value = float(match[1]) if match else 91.0
    if match and match[2] == "s":
        value = -abs(value)
    if abs(value) > 90:
        raise ValueError(f"{typed!r} is no latitude; write degrees, such as 44 or -41")
    return value


def _read_by(read: Callable[[str], float]) -> Callable[..., float | None]:
    """Return a callback of click that reads what was typed, and refuses what cannot be read."""

    def callback(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
        try:
            return None if value is None else read(value)
        except ValueError as error:
            raise click.BadParameter(str(error)) from None

    return callback


@click.command(
    epilog='Example: harvestcast start my_garden --units us --elevation "1300 ft" '
    '--last-frost "10 May" --crops "cucumber, tomato"',
    short_help="Begin a garden folder.",
)
@FOLDER
@click.option("--place", help="Name of the garden.")
@click.option("--elevation", callback=_read_by(elevation_in_metres), help="Height above the sea: "
              "'1300 ft', '400 m'.")  # fmt: skip
@click.option("--latitude", callback=_read_by(latitude_of), help="Degrees: 44, '41 S' or -41. Says "
              "when the season begins.")  # fmt: skip
@click.option("--units", type=click.Choice(["us", "metric"]), help="Units of files and reports.")
@click.option("--people", type=click.FloatRange(min=0, min_open=True), help="People who eat.")
@click.option("--crops", help="Crops, divided by commas: 'cucumber, tomato, snap bean'.")
@click.option("--last-frost", help="Usual last frost of spring: '10 May', 05-10.")
@click.option("--first-frost", help="Usual first frost of autumn: '5 Oct', 10-05.")
@click.option("--equipment", help="Divided by commas: 'boiling-water canner, dial pressure canner, "
              "dryer, freezer, refrigerator'.")  # fmt: skip
@click.option("--hours", help="Hours somebody can put up, by weekday: 'saturday 4, sunday 2'.")
@click.option("--date-order", type=click.Choice(["year_first", "month_first", "day_first"]),
              default="year_first", help="How 7/5/2026 is meant in the files; left out: asked "
              "about where it may be two days.")  # fmt: skip
@click.option("--ask/--no-ask", default=None, help="Ask for what is not given. [default: in a "
              "terminal]")  # fmt: skip
@command
def start(folder: Path, ask: bool | None, as_json: bool, progress: Progress, **given: Any) -> None:
    """Write a new garden folder with commented settings and empty tables.

    Nothing that is there already is touched.
    """
    from harvestcast.records.writing.start import start_garden

    if ask is None:
        ask = sys.stdin.isatty() and not as_json
    if ask:
        given = _asked(given, folder)
    place = given["place"] if given["place"] is not None else Path(os.path.realpath(folder)).name
    written = start_garden(
        folder,
        place=place,
        elevation_m=given["elevation"],
        latitude=given["latitude"],
        units=given["units"] or "metric",
        people=given["people"] or 2,
        crops=_parts(given["crops"]),
        last_frost=given["last_frost"] or None,
        first_frost=given["first_frost"] or None,
        equipment=_parts(given["equipment"]),
        hours=_parts(given["hours"]),
        date_order=given["date_order"],
    )
    files = [path.name for path in written]
    if as_json:
        show_json({"ok": True, "kind": "start", "folder": str(folder), "files": files})
        return
    show(f"Made {folder}: {', '.join(files)}.")
    if given["elevation"] is None:
        show("No elevation is set: no canning time is shown until garden.toml has one.")
    low, high = ("55", "82") if given["units"] == "us" else ("13", "28")
    crop = next(iter(_parts(given["crops"])), "cucumber").strip()
    day = f"14 May {dt.date.today().year}"
    show("Next:")
    show(f"  1. plantings.csv: a line for what is planted, such as {crop},,A,{day},sown,12")
    show("  2. weather: put the daily file of a station near you into the folder as it comes, or")
    show(f"     type days into weather.csv: {day},{low},{high}; see 'harvestcast explain weather'")
    show(f"  3. every pick: harvestcast add {folder} {crop} 12")
    show(f"  4. harvestcast check {folder}   says what is wrong, and what is missing still")


def _parts(typed: str | None) -> list[str]:
    return [part for part in (typed or "").replace(";", ",").split(",") if part.strip()]


def _asked(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Ask for what was not given; an answer that cannot be used is asked for again."""
    answers = dict(given)
    if answers["place"] is None:
        answers["place"] = click.prompt(
            "Name of the garden", default=Path(os.path.realpath(folder)).name
        )
    if answers["units"] is None:
        choice = click.Choice(["us", "metric"])
        answers["units"] = click.prompt("Units", type=choice, default="metric")
    height = "1300 ft" if answers["units"] == "us" else "400 m"

    def usable(key: str, value: str) -> None:
        """Try the answer where it will be used, without writing anything."""
        from harvestcast.records.writing.start import garden_settings

        tried: Any = _parts(value) if key in ("crops", "equipment", "hours") else value
        garden_settings(**{key: tried})

    answers["elevation"] = _ask(
        answers["elevation"],
        f"Height above the sea, such as {height} (empty: not known; then no canning times)",
        elevation_in_metres,
    )
    answers["latitude"] = _ask(
        answers["latitude"],
        "Latitude in degrees, such as 44 or 41 S (empty: found from the weather)",
        latitude_of,
    )
    if answers["people"] is None:
        answers["people"] = click.prompt(
            "People who eat from it", type=click.FloatRange(min=0, min_open=True), default=2
        )
    for key, question in (
        ("last_frost", "Usual last frost of spring, such as 10 May (empty: not known)"),
        ("first_frost", "Usual first frost of autumn, such as 5 Oct (empty: not known)"),
        ("crops", "Crops, divided by commas"),
        (
            "equipment",
            "Boiling-water canner, dial pressure canner, weighted pressure canner, dryer, freezer, "
            "refrigerator: which are there, divided by commas? (empty: none)",
        ),
        (
            "hours",
            "Hours somebody can stand in the kitchen and put up, such as saturday 4, sunday 2 "
            "(empty: none yet)",
        ),
    ):
        answers[key] = _ask(answers[key], question, partial(usable, key), True)
    return answers


def _ask(given: Any, question: str, read: Callable[[str], Any], as_typed: bool = False) -> Any:
    """Return what was given, or an answer that can be read; None where nothing is answered."""
    while given is None:
        typed = click.prompt(question, default="", show_default=False)
        if not typed.strip():
            return None
        try:
            value = read(typed)
        except InputError as error:
            for problem in error.problems:
                click.echo(f"{problem.rule}. {problem.cure}", err=True)
        except ValueError as error:
            click.echo(str(error), err=True)
        else:
            return typed if as_typed else value
    return given
