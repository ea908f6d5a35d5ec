"""A new garden folder: commented settings and empty tables with their headings."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from harvestcast.errors import InputError, Problem
from harvestcast.records.crops import canonical_crop, tidy_name
from harvestcast.report.wording import M_PER_FT, Units, clean, plain_number

TABLES: dict[Units, dict[str, str]] = {
    "us": {
        "plantings.csv": "crop,variety,bed,date,how,plants,row_ft,note",
        "picks.csv": "date,crop,variety,count,weight_lb,grade,note",
        "weather.csv": "date,tmin_f,tmax_f,rain_in",
        "pantry.csv": "date,product,jar,change,produce_lb,hours,note",
    },
    "metric": {
        "plantings.csv": "crop,variety,bed,date,how,plants,row_m,note",
        "picks.csv": "date,crop,variety,count,weight_kg,grade,note",
        "weather.csv": "date,tmin_c,tmax_c,rain_mm",
        "pantry.csv": "date,product,jar,change,produce_kg,hours,note",
    },
}
"""Headings of the empty tables."""

_SETTINGS = """\
# Settings of this garden. A line that starts with # is a remark; take the # away to use it.
# Units may be written either way: elevation_ft or elevation_m, free_gal or free_l.

place = {place}
{elevation}
units = "{units}"
people = {people}
{last_frost}
{first_frost}

# What a day without a row in picks.csv means: "not_picked" or "nothing_ripe".
day_without_row = "not_picked"

# How 7/5/2026 is meant: "month_first" or "day_first". Left as it is, such dates are refused.
# date_order = "month_first"

# Hands-on hours for putting up, by weekday. A weekday left out has none.
[hours]
# saturday = 5
# sunday = 3
# wednesday = 1.5

# Empty jars, new lids and bags in stock. Left out: taken as no limit.
[jars]
# half_pint = 12
# pint = 36
# quart = 24
# lids = 60
# freezer_bags = 50

# Ingredients in stock.
[stock]
# {vinegar} = {vinegar_amount}
# {salt} = 1

# Jars (or bags) a year that the household wants of each product.
[targets]
# "dill pickles" = 40
# "tomato sauce" = 30

{crops}
# Equipment: one block each.
# [[equipment]]
# kind = "boiling_water_canner"

# [[equipment]]
# kind = "pressure_canner"
# gauge = "weighted"

# [[equipment]]
# kind = "dryer"
# trays = 6

# [[equipment]]
# kind = "freezer"
# {free} = {freezer}

# [[equipment]]
# kind = "refrigerator"
# {free} = {refrigerator}
"""

_CROP = """\
[crops.{name}]
# {eat} = 1
# {give} = 2
"""


def start_garden(
    folder: str | Path,
    *,
    place: str = "",
    elevation_m: float | None = None,
    units: Units = "metric",
    people: float = 2,
    crops: Iterable[str] = (),
    last_frost: str | None = None,
    first_frost: str | None = None,
) -> tuple[Path, tuple[str, ...]]:
    """Write a new garden folder; nothing that is there already is touched.

    Parameters
    ----------
    folder : path
        Folder to make; it may exist, but none of the garden's files may.
    place : str
        Name of the garden.
    elevation_m : float, optional
        Height above the sea, m. Without it no canning time is ever shown.
    units : {"us", "metric"}
        Units of the files and reports.
    people : float
        People who eat from it.
    crops : iterable of str
        Crops grown, any common name.
    last_frost, first_frost : str, optional
        Month and day, ``05-10``.

    Returns
    -------
    tuple of (pathlib.Path, tuple of str)
        The folder, and the crops that are on record under no name (kept as typed).

    Raises
    ------
    harvestcast.errors.InputError
        Where a file of the garden exists already, or a frost date is no month and day.
    """
    folder = Path(folder)
    texts = {name: heading + "\n" for name, heading in TABLES[units].items()}
    known, unknown = _crop_names(crops)
    texts["garden.toml"] = _settings(
        place, elevation_m, units, people, known, last_frost, first_frost
    )
    there = [name for name in sorted(texts) if (folder / name).exists()]
    problems = []
    if there:
        problems.append(
            Problem(
                file=folder.name,
                value=", ".join(there),
                rule="there is a garden in the folder already, and nothing is overwritten",
                cure="Choose another folder, or go on with the garden that is there.",
            )
        )
    for key, value in (("last_frost", last_frost), ("first_frost", first_frost)):
        if value and not re.fullmatch(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", value):
            problems.append(
                Problem(
                    file="garden.toml",
                    column=key,
                    value=value,
                    rule="is no month and day",
                    cure="Write it as 05-10 for the tenth of May.",
                )
            )
    if problems:
        raise InputError(problems)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in sorted(texts.items()):
        with (folder / name).open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    return folder, unknown


def _crop_names(crops: Iterable[str]) -> tuple[list[str], tuple[str, ...]]:
    known: list[str] = []
    unknown: list[str] = []
    for typed in crops:
        name = tidy_name(clean(typed))
        if not name:
            continue
        canonical = canonical_crop(name)
        if canonical is None:
            unknown.append(name)
        known.append(canonical or name)
    return list(dict.fromkeys(known)), tuple(dict.fromkeys(unknown))


def _settings(
    place: str,
    elevation_m: float | None,
    units: Units,
    people: float,
    crops: list[str],
    last_frost: str | None,
    first_frost: str | None,
) -> str:
    us = units == "us"
    if elevation_m is None:
        key = "elevation_ft" if us else "elevation_m"
        elevation = (
            "# Height above the sea: without it no canning time is shown, since none would be "
            f"safe.\n# {key} = "
        ) + ("1300" if us else "400")
    elif us:
        elevation = f"elevation_ft = {_number(elevation_m / M_PER_FT)}"
    else:
        elevation = f"elevation_m = {_number(elevation_m)}"
    blocks = "\n".join(
        _CROP.format(
            name=_quoted(crop),
            eat="eat_lb_per_person_week" if us else "eat_kg_per_person_week",
            give="give_lb_week" if us else "give_kg_week",
        )
        for crop in crops
    )
    head = "# What is eaten fresh by a person in a week, and given away at most in a week.\n"
    return _SETTINGS.format(
        place=_quoted(clean(place)),
        elevation=elevation,
        units=units,
        people=_number(people),
        last_frost=_frost("last_frost", last_frost, "05-10"),
        first_frost=_frost("first_frost", first_frost, "10-05"),
        vinegar="vinegar_qt" if us else "vinegar_l",
        vinegar_amount="4",
        salt="salt_lb" if us else "salt_kg",
        crops=f"{head}{blocks}" if blocks else f"{head}# [crops.cucumber]\n",
        free="free_gal" if us else "free_l",
        freezer="25" if us else "100",
        refrigerator="10" if us else "40",
    )


def _frost(key: str, value: str | None, example: str) -> str:
    return f'{key} = "{value}"' if value else f'# {key} = "{example}"'


def _number(value: float) -> str:
    return plain_number(value, 1).replace(",", "")


def _quoted(text: str) -> str:
    """Return a basic string of TOML; control characters are gone already."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


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
        raise ValueError(f"{typed!r} is no elevation; write a number and its unit, such as 1300 ft")
    value = float(match[1].replace(",", "") + (match[2] or ""))
    metres = value * M_PER_FT if match[3][0] in "f'" else value
    if not -430 <= metres <= 5000:
        raise ValueError(f"{typed!r} is no elevation of a garden; from -430 m to 5,000 m")
    return round(metres, 6)
