"""The second invented garden, ``sample_logs/south``: small, southern and metric.

Written by ``python -m tests.make_sample_logs`` together with the first. The place, the household,
its weather station and every variety name are made up.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd

from tests.simulated.climate import Site, simulate_weather
from tests.simulated.long_crops import LongCrop, grow_long

SEED = 4142
BEGUN = pd.Timestamp("2024-07-01")
LAST_DAY = pd.Timestamp("2026-01-24")
SITE = Site(
    mean_c=11.6, amplitude_c=5.4, warmest_day=25, range_c=9.0, noise_c=1.9, year_c=0.4,
    heat_waves=0.0, wet_after_dry=0.3, wet_after_wet=0.52, rain_mm=5.5,
)  # fmt: skip
"""Near the sea at 42 degrees south; the warmest day is in January."""

CROPS = (
    LongCrop(crop="garlic", variety="Rope Walk", bed="gate bed", how="set_out",
             planted=(("2024-05-04", 80, "2025-01-11"), ("2025-05-03", 90, "2026-01-17")),
             kg=0.055, piece_kg=0.055, base_c=0.0, first_dd=1900, last_dd=1950,
             heat_from="07-01", once=True),
    LongCrop(crop="broad beans", variety="Longshore", bed="gate bed", how="sown",
             planted=(("2024-05-11", 60, "2024-12-28"), ("2025-05-10", 70, "2026-01-03")),
             kg=0.22, piece_kg=0.02, base_c=2.0, first_dd=1250, last_dd=1700, every=4.0),
    LongCrop(crop="kale", variety="Lee Post", bed="back row", how="sown",
             planted=(("2024-02-10", 12, "2024-12-07"), ("2025-02-08", 14, "2025-12-06")),
             kg=1.1, piece_kg=0.22, base_c=3.0, first_dd=800, last_dd=2250, every=6.0),
    LongCrop(crop="silverbeet", variety="Ferry Lamp", bed="back row", how="sown",
             planted=(("2024-09-07", 10, "2025-05-10"), ("2025-09-06", 10, "")),
             kg=1.7, piece_kg=0.25, base_c=3.0, first_dd=560, last_dd=2500, every=4.0),
    LongCrop(crop="courgettes", variety="Dinghy", bed="sunny bed", how="set_out",
             planted=(("2024-11-02", 3, "2025-04-05"), ("2025-11-01", 4, "")),
             kg=4.6, piece_kg=0.24, base_c=6.0, first_dd=380, last_dd=1420, every=2.5),
    LongCrop(crop="tomatoes", variety="Beacon Hand", bed="sunny bed", how="set_out",
             planted=(("2024-11-09", 10, "2025-05-03"), ("2025-11-08", 12, "")),
             kg=3.2, piece_kg=0.13, base_c=6.0, first_dd=720, last_dd=1480, every=2.5),
    LongCrop(crop="strawberries", variety="Tidewick", bed="tubs", how="set_out",
             planted=(("2023-08-12", 30, ""),), kg=0.4, piece_kg=0.012, base_c=2.0, first_dd=1050,
             last_dd=1750, every=2.5, heat_from="07-01", years=3),
    LongCrop(crop="apples", variety="Harbourmaster", bed="tree", how="set_out",
             planted=(("2014-07-19", 1, ""),), kg=38.0, piece_kg=0.15, base_c=5.0, first_dd=1680,
             last_dd=2050, every=5.0, heat_from="07-01", years=12),
)  # fmt: skip
WEEKDAYS = (0.3, 0.6, 0.3, 0.6, 0.3, 0.95, 0.8)
"""Chance of going to the garden, Monday to Sunday."""
COUNTED = ("garlic", "courgettes", "tomatoes", "apples")

SETTINGS = """\
# An INVENTED garden, made up for harvestcast: the place Kettlehaven, the household, the weather
# station and the names of all varieties do not exist, and nobody picked or bottled anything in
# this log. A seeded program wrote it (tests/make_sample_logs.py).

place = "Kettlehaven (an invented place)"
elevation_m = 40                # no canning time is shown without it
latitude = -42                  # negative in the south: the season runs from July to June
units = "metric"
people = 3
last_frost = "10-05"
first_frost = "05-20"
day_without_row = "not_picked"
counted_on = "2026-01-10"       # evening on which jars, stock and free room below were counted

[crops.silverbeet]
eat_kg_per_person_week = 0.25

[crops.courgettes]
eat_kg_per_person_week = 0.4
give_kg_week = 1

[crops.tomatoes]
eat_kg_per_person_week = 0.6
keep = "counter"

[[equipment]]
kind = "boiling_water_canner"
pints = 8
quarts = 7

[[equipment]]
kind = "freezer"
free_l = 70

[[equipment]]
kind = "refrigerator"
free_l = 30

[[equipment]]
kind = "cool_store"
name = "shed"
free_l = 180

# Hours somebody can stand in the kitchen and put up, beside cooking.
[hours]
wednesday = 2
friday = 1.5
saturday = 4
sunday = 4

# Empty jars, new lids and bags in the house.
[jars]
"250 ml" = 20
"500 ml" = 26
"900 ml" = 10
lids = 44
freezer_bags = 40

[stock]
vinegar_l = 3
salt_kg = 1
sugar_kg = 4

# What the shelf should hold, counted in pints (two 900 ml jars are about four).
[targets]
"canned tomatoes" = 24
"bread and butter zucchini" = 8
"applesauce" = 16
"frozen chard" = 10
"strawberry jam" = 10           # in half pints
"garlic in store (kg)" = 3
"""

KITCHEN = """\
date,what,item,jar,amount,produce_kg,hours,note
2024-12-21,put up,strawberry jam,250 ml,5,2.3,1.8,
2025-01-11,put up,garlic in store,kg,3.2 kg,,,in plaits under the roof
2025-01-18,put up,bread and butter zucchini,500 ml,5,2.4,2.1,
2025-02-08,put up,frozen chard,pint bag,4,1.8,0.9,
2025-02-22,put up,canned tomatoes,900 ml,5,6.5,2.8,
2025-03-08,put up,canned tomatoes,900 ml,4,5.4,2.5,one lid did not seal
2025-03-29,put up,applesauce,500 ml,7,5.5,2.4,
2025-04-12,put up,apples in the cool store,kg,12 kg,,,in the shed
2025-05-11,used,canned tomatoes,900 ml,1,,,
2025-05-25,used,apples in the cool store,kg,6 kg,,,
2025-06-08,used,applesauce,500 ml,1,,,
2025-06-22,used,canned tomatoes,900 ml,2,,,
2025-07-06,used,strawberry jam,250 ml,2,,,
2025-07-20,used,garlic in store,kg,1.5 kg,,,
2025-08-03,used,canned tomatoes,900 ml,2,,,
2025-08-17,used,frozen chard,pint bag,2,,,
2025-08-31,used,applesauce,500 ml,2,,,
2025-09-14,used,bread and butter zucchini,500 ml,1,,,nobody is keen
2025-09-28,used,canned tomatoes,900 ml,1,,,
2025-10-12,used,applesauce,500 ml,1,,,
2025-11-09,gave,strawberry jam,250 ml,1,,,to the fair
2025-12-20,put up,strawberry jam,250 ml,5,2.2,1.7,
2026-01-03,used,canned tomatoes,900 ml,1,,,
2026-01-17,put up,garlic in store,kg,5.6 kg,,,
2026-01-24,counted,courgettes,,1.5 kg,,,
2026-01-24,counted,silverbeet,,400 g,,,
2026-01-24,counted,500 ml jars,,26,,,
"""


def write_south(folder: Path) -> Path:
    """Write the southern garden's folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    weather = simulate_weather(np.random.default_rng([SEED, 1]), years=range(2014, 2027), site=SITE)
    rng = np.random.default_rng([SEED, 2])
    chance = np.asarray(WEEKDAYS)[weather["date"].dt.day_of_week]
    picks = grow_long(rng, CROPS, weather, rng.random(len(weather)) < chance)
    picks = picks[(picks["date"] >= BEGUN) & (picks["date"] <= LAST_DAY)]
    (folder / "garden.toml").write_text(SETTINGS, "utf-8", newline="\n")
    (folder / "kitchen.csv").write_text(KITCHEN, "utf-8", newline="\n")
    planted = sorted(
        [day, one.crop, one.variety, one.bed, one.how, str(plants), removed]
        for one in CROPS
        for day, plants, removed in one.planted
    )
    heading = ["date", "crop", "variety", "bed", "how", "plants", "removed"]
    _write(folder / "plantings.csv", heading, planted)
    heading = ["date", "crop", "variety", "count", "weight_kg"]
    _write(folder / "picks.csv", heading, [_typed_pick(pick) for pick in picks.itertuples()])
    heading = ["date", "tmin_c", "tmax_c", "rain_mm"]
    known = weather["date"].between(pd.Timestamp("2016-07-01"), LAST_DAY)
    _write(
        folder / "weather.csv", heading, [_typed_day(day) for day in weather[known].itertuples()]
    )
    ahead = weather[weather["date"] > LAST_DAY].head(7)
    _write(
        folder / "weather-forecast.csv",
        [*heading, "issued"],
        [[*_typed_day(day), f"{LAST_DAY:%Y-%m-%d}"] for day in ahead.itertuples()],
    )
    return folder


def _typed_pick(pick: object) -> list[str]:
    counted = pick.crop in COUNTED  # type: ignore[attr-defined]
    return [
        f"{pick.date:%Y-%m-%d}",  # type: ignore[attr-defined]
        pick.crop,  # type: ignore[attr-defined]
        pick.variety,  # type: ignore[attr-defined]
        f"{pick.count:.0f}" if counted else "",  # type: ignore[attr-defined]
        f"{max(0.01, pick.mass_kg):.2f}",  # type: ignore[attr-defined]
    ]


def _typed_day(day: object) -> list[str]:
    return [
        f"{day.date:%Y-%m-%d}",  # type: ignore[attr-defined]
        f"{day.tmin_c:.1f}",  # type: ignore[attr-defined]
        f"{day.tmax_c:.1f}",  # type: ignore[attr-defined]
        f"{day.rain_mm:.1f}",  # type: ignore[attr-defined]
    ]


def _write(path: Path, heading: list[str], rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([heading, *rows])
