"""Begin a garden folder: commented settings and empty logs that check clean."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from harvestcast.errors import InputError
from harvestcast.records.household import WEEKDAYS
from harvestcast.records.logs.folder import files_named
from harvestcast.records.settings import parse_household
from harvestcast.records.tables.findings import TYPED, Findings, refuse
from harvestcast.records.typed.crops import (
    canonical_crop,
    likely_crop,
    one_word,
    tidy_name,
    two_crops,
)
from harvestcast.records.typed.dates import parse_date
from harvestcast.records.writing.kitchen import HEADINGS
from harvestcast.records.writing.one_pick import PICK_HEADINGS
from harvestcast.records.writing.safely import cannot_write, new_file
from harvestcast.units import M_PER_FT

_HEADINGS = {
    "metric": {
        "plantings": "crop,variety,bed,date,how,plants,row_m,removed,cover,note",
        "weather": "date,tmin_c,tmax_c,rain_mm",
        "kitchen": ",".join(HEADINGS["metric"]),
    },
    "us": {
        "plantings": "crop,variety,bed,date,how,plants,row_ft,removed,cover,note",
        "weather": "date,tmin_f,tmax_f,rain_in",
        "kitchen": ",".join(HEADINGS["us"]),
    },
}


def start_garden(
    folder: str | Path,
    *,
    units: Literal["us", "metric"] = "metric",
    today: dt.date | None = None,
    **settings: Any,
) -> tuple[Path, ...]:
    """Write a commented garden folder that checks clean; nothing that stands there is touched.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder to begin; made where it does not exist.
    units : {"us", "metric"}
        Units of the files and reports.
    today : datetime.date, optional
        Gives the year of the pick log; left out: by the clock.
    **settings
        As of :func:`garden_settings`.

    Returns
    -------
    tuple of pathlib.Path
        Files written, ``garden.toml`` last.

    Raises
    ------
    harvestcast.errors.InputError
        Where the folder is a garden already, or a value cannot be used; nothing is written.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as place:
    ...     files = start_garden(Path(place) / "plot", people=3, crops=["Cucumbers"])
    ...     [file.name for file in files][-1]
    'garden.toml'
    """
    path = Path(folder)
    if path.exists() and not path.is_dir():
        raise refuse("folder.is_file", path.name)
    if (path / "garden.toml").exists():
        raise refuse("folder.is_garden", path.name)
    year = (today or dt.date.today()).year
    counted_on = today or dt.date.today()
    text = garden_settings(units=units, counted_on=counted_on, **settings)
    contents = {f"{stem}.csv": f"{line}\n" for stem, line in _HEADINGS[units].items()}
    contents[f"picks-{year}.csv"] = ",".join(PICK_HEADINGS[units]) + "\n"
    written: list[Path] = []
    made = not path.exists()
    try:
        path.mkdir(parents=True, exist_ok=True)
        for name, content in [*contents.items(), ("garden.toml", text)]:
            stem = name.split(".")[0].split("-")[0]
            if name != "garden.toml" and files_named(path, stem, (".csv", ".tsv", ".xlsx", ".ods")):
                continue
            new_file(path / name, content.encode("utf-8"))
            written.append(path / name)
    except (OSError, InputError) as error:
        # A folder half begun would be taken for a garden: what was written goes again.
        with suppress(OSError):
            for file in written:
                file.unlink()
            if made:
                path.rmdir()
        if isinstance(error, OSError):
            raise cannot_write(path.name, error) from None
        raise
    return tuple(written)


def garden_settings(
    *,
    place: str = "",
    elevation_m: float | None = None,
    latitude: float | None = None,
    units: Literal["us", "metric"] = "metric",
    people: float = 2,
    crops: Iterable[str] = (),
    last_frost: str | None = None,
    first_frost: str | None = None,
    equipment: Iterable[str] = (),
    hours: Iterable[str] = (),
    date_order: Literal["year_first", "month_first", "day_first"] = "year_first",
    counted_on: dt.date | None = None,
) -> str:
    """Return the text of a new ``garden.toml``, commented.

    Parameters
    ----------
    place : str
        Name of the place.
    elevation_m : float, optional
        Elevation in metres; no canning time is shown without it.
    latitude : float, optional
        Degrees, south of the equator negative; says when the season begins.
    units : {"us", "metric"}
        Units of the files and reports.
    people : float
        People who eat from the garden.
    crops : iterable of str
        Crops by any name; each gets its settings, to be filled in at leisure.
    last_frost, first_frost : str, optional
        Usual days of the last frost in spring and the first in autumn: ``10 May``, ``05-10``.
    equipment : iterable of str
        What is in the kitchen: ``boiling-water canner``, ``dial pressure canner``, ``weighted
        pressure canner``, ``dryer``, ``freezer``, ``refrigerator``; each gets usual sizes, to be
        looked over.
    hours : iterable of str
        Hours for putting up, by weekday: ``saturday 4``, ``wed 1.5``.
    date_order : {"year_first", "month_first", "day_first"}
        How dates such as 7/5/2026 are read.
    counted_on : datetime.date, optional
        Day on whose evening jars, stock and room were counted.

    Raises
    ------
    harvestcast.errors.InputError
        Where a value cannot be used.
    """
    findings = Findings()
    names = _crops(crops, findings)
    pieces = _pieces(equipment, findings)
    free = _hours(hours, findings)
    south = latitude is not None and latitude < 0
    spring, autumn = ("10-10", "05-01") if south else ("05-10", "10-01")
    usual = (("last_frost", last_frost, spring), ("first_frost", first_frost, autumn))
    days = [(key, _month_day(key, typed, findings), example) for key, typed, example in usual]
    frosts = [
        f"{'' if day else '# '}{key} = {_quoted(day or example)}" for key, day, example in days
    ]
    us = units == "us"
    weight, height = ("lb", "ft") if us else ("kg", "m")
    if elevation_m is None:
        elevation = f"# elevation_{height} = 1000"
    elif us:
        elevation = f"elevation_ft = {_number(round(elevation_m / M_PER_FT, 1))}"
    else:
        elevation = f"elevation_m = {_number(elevation_m)}"
    lines = [
        "# Settings of this garden. A line that begins with # is a remark and does nothing;",
        "# take the # away to use a setting. Text stands in quotation marks, numbers do not.",
        "",
        f"place = {_quoted(place)}",
        "# Height above the sea. No canning time is shown without it: the times depend on it.",
        elevation,
        "# Degrees north of the equator, negative in the south: says when the season begins.",
        "# latitude = 45" if latitude is None else f"latitude = {_number(latitude)}",
        f'units = {_quoted(units)}  # "us" or "metric"',
        f"people = {_number(people)}",
        "# Usual days of the last frost in spring and the first in autumn, month first. No frost",
        "# ends what stands in a house or tunnel: write glass into its column cover.",
        *frosts,
        "# A day without a line in the pick log: nobody picked, or nothing was ripe?",
        'day_without_row = "not_picked"  # or "nothing_ripe"',
        "# How dates like 7/5/2026 are read. year_first reads 2026-07-05 and asks about others.",
        f'date_order = {_quoted(date_order)}  # or "month_first", "day_first"',
        "# Canners that can stand on the stove at a time, if fewer than there are.",
        "# stove_places = 2",
        "# Day on whose evening the jars below, what is in stock and the room free in freezer and",
        "# refrigerator were counted. What is put up after it is taken off, jar by jar. A later",
        '# count needs no change here: harvestcast on-hand FOLDER "pint jars" 24',
        '# counted_on = "2026-07-01"' if counted_on is None else f'counted_on = "{counted_on}"',
        "",
        "# Hours somebody can stand in the kitchen and put up, by weekday.",
        "[hours]",
        *(free or ["# saturday = 4", "# sunday = 2"]),
        "",
        "# Empty jars, new lids and bags in the house.",
        "[jars]",
        *(("# pint = 24", "# quart = 12") if us else ('# "500 ml" = 24', '# "900 ml" = 12')),
        "# lids = 36",
        "# freezer_bags = 30",
        "",
        "# Ingredients in the house, with the unit in the name: vinegar, salt, sugar and the like.",
        "[stock]",
        f"# vinegar_{'gal' if us else 'l'} = {1 if us else 4}",
        f"# sugar_{weight} = {10 if us else 5}",
        "",
        "# Jars or bags a year that the shelf should hold, by product, "
        + ("counted in pints: 7 quarts" if us else "counted in jars of 500 ml:"),
        (
            "# are 14. Relish and jam are counted in half pints, what lies in store is weighed."
            if us
            else "# 7 of 900 ml are 14. Relish and jam: 250 ml; what lies in store is weighed."
        ),
        "# 'harvestcast check FOLDER --products' lists the products and what each is counted in.",
        "[targets]",
        '# "dill pickles" = 20',
        '# "frozen tomatoes" = 24',
        f'# "onions in the cool store ({weight})" = {40 if us else 20}',
        "",
        "# A tested recipe of your own, from a publication; refused without one, and where it is",
        "# laxer than the guide's. gauge and pressure_psi (or pressure_kpa) where method is",
        '# "pressure"; acid = "each_jar" takes lemon_juice_tbsp, "none_added" is low-acid food.',
        "# [[recipes]]",
        '# product = "dill pickles"',
        '# jar = "pint"  # half_pint, pint or quart',
        '# method = "boiling_water"',
        "# minutes = 20",
        f"# headspace_{'in' if us else 'cm'} = {0.5 if us else 1.3}",
        '# pack = "raw"  # or "hot"',
        '# acid = "vinegar_in_recipe"',
        f"# elevation_from_{height} = 0",
        f"# elevation_to_{height} = {3000 if us else 900}",
        '# source = "Title of the publication, number, year, page"',
        "",
        "# What is in the kitchen. Take the # away from the whole piece; look the sizes over.",
        *_equipment(pieces, us),
        "# What is eaten fresh and given away, crop by crop; all of it may be left out.",
    ]
    for crop in names or ["cucumber"]:
        mark = "" if names else "# "
        lines += [
            f"{mark}[crops.{_quoted(crop)}]",
            f"# eat_{weight}_per_person_week = {1 if us else 0.5}",
            f"# give_{weight}_week = {2 if us else 1}",
        ]
    text = "\n".join(lines) + "\n"
    parse_household(text, findings)
    if findings.problems:
        raise InputError(replace(p, file=TYPED, line=None) for p in findings.problems)
    return text


def _crops(crops: Iterable[str], findings: Findings) -> list[str]:
    """Return each crop once, by the name that its household typed."""
    names: dict[str, str] = {}
    for typed in crops:
        typed = " ".join(typed.split())
        name = canonical_crop(typed) or tidy_name(typed)
        two = two_crops(typed)
        if two:
            findings.problem("crop.two_meanings", TYPED, None, "crops", typed, crops=list(two))
        elif canonical_crop(typed) is None and (hint := likely_crop(typed)):
            findings.problem("crop.misspelt", TYPED, None, "crops", typed, meant=hint)
        elif name and name not in names:
            names[name] = one_word(name, {typed: 1}) or name
    return [*names.values()]


def _month_day(key: str, typed: str | None, findings: Findings) -> str | None:
    """Return a day of the year as the settings write it; what is none is left as typed."""
    text = " ".join((typed or "").split())
    if not text or re.fullmatch(r"\d\d-\d\d", text, re.ASCII):
        return text or None
    try:
        day = parse_date(text, year=2024)  # a leap year, so that 29 February is a day
    except ValueError:
        findings.problem("date.no_season_day", TYPED, None, key, text)
        return None
    return f"{day.month:02d}-{day.day:02d}"


def _hours(hours: Iterable[str], findings: Findings) -> list[str]:
    """Return the lines of ``[hours]``; a weekday may be cut short to three letters."""
    lines = []
    for typed in hours:
        match = re.fullmatch(r"\s*([a-z]{3,})\s*[:=]?\s*(\d+(?:\.\d+)?)\s*h?\s*", typed.casefold())
        days = [day for day in WEEKDAYS if match and day.startswith(match[1].rstrip("."))]
        if match and len(days) == 1:
            lines.append(f"{days[0]} = {match[2]}")
        elif typed.strip():
            findings.problem("hours.unclear", TYPED, None, "hours", typed.strip())
    return lines


_KINDS = ("boiling_water_canner", "pressure_canner", "dryer", "freezer", "refrigerator")


def _pieces(equipment: Iterable[str], findings: Findings) -> list[str]:
    """Return the kinds of equipment meant, a pressure canner with its gauge behind a colon."""
    found: list[str] = []
    for typed in equipment:
        words = re.sub(r"[-_()]", " ", typed.casefold()).split()
        text = " ".join(words)
        if not words:
            continue
        if "pressure" in text:
            gauge = [g for g in ("dial", "weighted") if g in words]
            if len(gauge) != 1:
                findings.problem("equipment.gauge", TYPED, None, "equipment", typed.strip())
                continue
            found.append(f"pressure_canner:{gauge[0]}")
            continue
        kinds = {
            "boiling_water_canner": ("boiling", "water bath", "canner"),
            "dryer": ("dryer", "drier", "dehydrator"),
            "freezer": ("freezer",),
            "refrigerator": ("refrigerator", "fridge"),
        }
        kind = next((k for k, names in kinds.items() if any(n in text for n in names)), None)
        if kind is None:
            findings.problem("equipment.unknown", TYPED, None, "equipment", typed.strip())
        else:
            found.append(kind)
    return list(dict.fromkeys(found))


def _equipment(pieces: list[str], us: bool) -> list[str]:
    """Return the lines of every kind of equipment, those in the house without a # before them."""
    # Two pressure canners, one of either gauge, are two pieces.
    gauges = [p.partition(":")[2] for p in pieces if ":" in p] or ["dial"]
    here = {piece.partition(":")[0] for piece in pieces}
    area, room = ("in2", "ft3") if us else ("m2", "l")
    # Sizes of usual household models (common practice, no source).
    sizes = {
        "boiling_water_canner": ["pints = 9", "quarts = 7"],
        "pressure_canner": [
            'gauge = "dial"  # "dial" or "weighted": the tables differ',
            "pints = 9",
            "quarts = 7",
        ],
        "dryer": ["trays = 5", f"tray_area_{area} = {150 if us else 0.1}"],
        "freezer": [f"free_{room} = {2 if us else 60}"],
        "refrigerator": [f"free_{room} = {1 if us else 30}"],
    }
    lines: list[str] = []
    for kind in _KINDS:
        mark = "" if kind in here else "# "
        for gauge in gauges if kind == "pressure_canner" else [""]:
            own = [line.replace('"dial"', _quoted(gauge), 1) for line in sizes[kind]]
            piece = ["[[equipment]]", f"kind = {_quoted(kind)}", *own]
            lines += [*(f"{mark}{line}" for line in piece), mark.strip()]
    return [*lines[:-1], ""]


def _quoted(text: str) -> str:
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return json.dumps(plain, ensure_ascii=False)


def _number(value: float) -> str:
    return f"{value:.10g}" if isinstance(value, int | float) else _quoted(str(value))
