"""Write sample_logs/: the invented garden that comes with the project.

``python -m tests.make_sample_logs`` writes it anew from its seed; a test compares the bytes.
The village, the household, its weather station, and every variety name are made up. Crops,
plants and weather come out of the simulator in ``tests/simulated``.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from tests.simulated import CROPS, Habits, SimulatedGarden, Site, grow_garden, simulate_weather

SEED = 2248
LAST_DAY = pd.Timestamp("2026-07-25")
LB = 0.45359237
INCH_MM = 25.4
FT_M = 0.3048
ROOT = Path(__file__).parents[1]

# crop, variety, then factors on the crop's nature: fruits, heat to flower, season, fruit weight
VARIETIES = (
    ("cucumber", "Crispwick", 1.15, 0.95, 0.95, 0.75),
    ("cucumber", "Long Friar", 0.85, 1.05, 1.15, 1.6),
    ("zucchini", "Barge Pole", 1.1, 0.95, 1.0, 1.0),
    ("zucchini", "Moonlodger", 0.85, 1.05, 1.1, 1.1),
    ("snap bean", "Patterwick", 1.0, 0.95, 0.9, 1.0),
    ("snap bean", "Tall Osric", 1.6, 1.15, 2.2, 1.05),
    ("tomato", "Kettle Red", 1.3, 0.95, 0.9, 0.75),
    ("tomato", "Marsh Bishop", 0.7, 1.1, 1.1, 2.1),
    ("tomato", "Plumb Bob", 1.2, 1.0, 0.75, 0.65),
    ("tomato", "Copperkin", 1.6, 0.85, 1.2, 0.3),
    ("sweet pepper", "Bellowsgate", 1.0, 1.0, 1.0, 1.2),
    ("sweet pepper", "Red Tinker", 1.2, 0.95, 1.0, 0.8),
    ("hot pepper", "Emberling", 1.0, 1.0, 1.0, 1.0),
    ("pea", "Early Whistle", 1.0, 0.95, 1.0, 1.0),
    ("sweet corn", "Gold Rattle", 0.95, 0.95, 1.0, 0.95),
    ("sweet corn", "Miller's Tooth", 0.9, 1.12, 1.0, 1.15),
    ("okra", "Ribbed Piper", 1.0, 1.0, 1.0, 1.0),
    ("chard", "Ditchlight", 1.0, 1.0, 1.0, 1.0),
    ("winter squash", "Doorstop", 1.0, 1.0, 1.0, 1.2),
)

# crop, variety, bed, month-day of 2025, month-day of 2026, how, plants 2025 and 2026, row in feet
PLANTINGS = (
    ("pea", "Early Whistle", "north 1", "04-07", "04-10", "sown", 240, 240, 80),
    ("chard", "Ditchlight", "north 2", "04-22", "04-24", "sown", 16, 16, 16),
    ("snap bean", "Patterwick", "long bed", "05-10", "05-12", "sown", 160, 180, 54),
    ("snap bean", "Patterwick", "long bed", "06-02", "06-06", "sown", 140, 150, 48),
    ("snap bean", "Patterwick", "north 1", "07-06", "07-08", "sown", 120, 120, 40),
    ("snap bean", "Tall Osric", "fence", "05-14", "05-16", "sown", 70, 80, 30),
    ("cucumber", "Crispwick", "trellis", "05-14", "05-15", "sown", 34, 42, 42),
    ("cucumber", "Crispwick", "trellis", "06-16", "06-14", "sown", 18, 20, 20),
    ("cucumber", "Long Friar", "trellis", "05-14", "05-15", "sown", 10, 10, 12),
    ("zucchini", "Barge Pole", "compost end", "05-12", "05-13", "sown", 6, 8, None),
    ("zucchini", "Moonlodger", "compost end", "05-12", "05-20", "sown", 5, 5, None),
    ("sweet corn", "Gold Rattle", "field", "05-08", "05-09", "sown", 120, 130, None),
    ("sweet corn", "Gold Rattle", "field", "05-28", "05-30", "sown", 110, 120, None),
    ("sweet corn", "Miller's Tooth", "field", "05-10", "05-11", "sown", 90, 90, None),
    ("tomato", "Kettle Red", "south 1", "05-16", "05-18", "set_out", 20, 22, 44),
    ("tomato", "Plumb Bob", "south 1", "05-16", "05-18", "set_out", 18, 20, 40),
    ("tomato", "Marsh Bishop", "south 2", "05-17", "05-18", "set_out", 8, 6, 18),
    ("tomato", "Copperkin", "south 2", "05-17", "05-18", "set_out", 3, 3, 8),
    ("sweet pepper", "Bellowsgate", "south 3", "05-22", "05-23", "set_out", 18, 18, 27),
    ("sweet pepper", "Red Tinker", "south 3", "05-22", "05-23", "set_out", 12, 14, 20),
    ("hot pepper", "Emberling", "south 3", "05-22", "05-23", "set_out", 4, 4, 6),
    ("okra", "Ribbed Piper", "fence", "05-24", "05-25", "sown", 28, 30, 20),
    ("winter squash", "Doorstop", "field", "05-14", "05-15", "sown", 14, 14, None),
)

# What this household calls its crops, in its two books.
SPOKEN = {
    "cucumber": ("Cucumbers", "cucumbers"),
    "zucchini": ("Zucchini", "zucchini"),
    "snap bean": ("Green beans", "green beans"),
    "tomato": ("Tomatoes", "tomatoes"),
    "sweet pepper": ("Bell peppers", "peppers, sweet"),
    "hot pepper": ("Hot peppers", "hot peppers"),
    "pea": ("Peas", "peas"),
    "sweet corn": ("Corn", "corn"),
    "okra": ("Okra", "okra"),
    "chard": ("Swiss chard", "chard"),
    "winter squash": ("Winter squash", "winter squash"),
}
RECORD = {
    "cucumber": "both",
    "tomato": "both",
    "winter squash": "both",
    "zucchini": "count",
    "sweet pepper": "count",
    "hot pepper": "count",
    "sweet corn": "count",
    "snap bean": "weight",
    "pea": "weight",
    "okra": "weight",
    "chard": "weight",
}

# product, bag or jar, crop, pounds in a batch, jars the recipe promises, hours, most batches of
# 2025 and of 2026 so far
PUT_UP = (
    ("frozen peas", "pint bag", "pea", 6.0, 3, 1.2, 3, 3),
    ("dill pickles", "pint", "cucumber", 8.0, 8, 2.5, 5, 2),
    ("bread and butter pickles", "pint", "cucumber", 6.0, 8, 2.5, 4, 0),
    ("canned green beans", "pint", "snap bean", 9.0, 9, 2.5, 4, 1),
    ("frozen green beans", "pint bag", "snap bean", 6.0, 6, 1.2, 3, 1),
    ("canned tomatoes", "quart", "tomato", 21.0, 7, 3.0, 5, 0),
    ("tomato sauce", "pint", "tomato", 28.0, 9, 4.0, 2, 0),
    ("frozen corn", "pint bag", "sweet corn", 18.0, 8, 2.0, 3, 0),
    ("frozen peppers", "pint bag", "sweet pepper", 4.0, 6, 1.0, 2, 0),
)
# Per crop: days a pick is still fit to put up, and pounds a day that go to the table.
FRESH = {
    "pea": (4, 0.4),
    "cucumber": (4, 1.2),
    "snap bean": (6, 0.8),
    "tomato": (8, 2.0),
    "sweet corn": (3, 1.5),
    "sweet pepper": (10, 0.4),
}
SLOW_SELLER = "bread and butter pickles"  # the shelf is still full of them in summer

SETTINGS = """\
# An INVENTED garden, made up for harvestcast: the village of Quillmarsh, the household, the
# weather station and the names of all varieties do not exist, and nobody picked or canned
# anything in this log. A seeded program wrote it (tests/make_sample_logs.py).

place = "Quillmarsh (an invented village)"
elevation_ft = 1180             # no canning time is shown without it
latitude = 44                   # degrees, negative in the south: says when the season begins
units = "us"                    # "us" or "metric"; how amounts are shown
people = 7
last_frost = "05-01"
first_frost = "10-12"
day_without_row = "not_picked"  # a day without a line in the picks: nobody picked (the other
                                # choice, "nothing_ripe": somebody always looks)
# stove_places = 2              # kettles that fit on the stove at a time, if not all
# bed_area_ft2 = 900            # beds to plant next year, if not as much as this year's

counted_on = "2026-07-01"       # evening on which jars, stock and free room below were counted;
                                # what was put up since is taken off

# What is eaten fresh, given to neighbors and fed to the hens. All of it may be left out.
[crops.cucumber]
eat_lb_per_person_week = 0.9
give_lb_week = 4
animals_lb_week = 6

[crops.zucchini]
eat_lb_per_person_week = 0.8
give_lb_week = 5
animals_lb_week = 10

[crops."snap bean"]
eat_lb_per_person_week = 0.7
give_lb_week = 2

[crops.tomato]
eat_lb_per_person_week = 1.5
give_lb_week = 4
keep = "counter"
# aliases = ["love apples"]     # further names of the crop in your files
# varieties_apart = ["Bob"]     # no other spelling of Plumb Bob, but a variety of its own

[crops."winter squash"]
keep = "cool_store"

[[equipment]]
kind = "boiling_water_canner"
pints = 9
quarts = 7

[[equipment]]
kind = "pressure_canner"
gauge = "dial"                  # "dial" or "weighted": the tables differ
pints = 9
quarts = 7

[[equipment]]
kind = "dryer"
trays = 8
tray_area_in2 = 180

[[equipment]]
kind = "freezer"
free_ft3 = 3.5

[[equipment]]
kind = "refrigerator"
free_ft3 = 1.8

[[equipment]]
kind = "cool_store"
name = "cellar"
free_ft3 = 10

# Hours somebody can stand in the kitchen and put up, beside cooking.
[hours]
monday = 4
tuesday = 2
wednesday = 4
thursday = 2
friday = 4
saturday = 7
sunday = 4

# Empty jars, new lids and bags in the house.
[jars]
half_pint = 18
pint = 64
quart = 52
lids = 84
freezer_bags = 60

[stock]
vinegar_gal = 1.5
salt_lb = 4
sugar_lb = 10
onion_lb = 6

# Jars or bags a year that the shelf should hold for this family.
[targets]
"dill pickles" = 40
"bread and butter pickles" = 16
"canned green beans" = 40
"frozen green beans" = 24
"canned tomatoes" = 42
"tomato sauce" = 24
"frozen corn" = 24
"frozen peas" = 12
"frozen peppers" = 12
"""


def sample_garden() -> SimulatedGarden:
    """Return the simulated garden behind the sample, both seasons whole."""
    site = Site()
    weather = simulate_weather(np.random.default_rng([SEED, 1]), years=range(2017, 2027), site=site)
    return grow_garden(
        SEED,
        varieties=_varieties(),
        plantings=_plantings(),
        weather=weather,
        habits=Habits(
            weekdays=(0.9, 0.85, 0.9, 0.85, 0.85, 0.9, 0.25),
            away=0.8,
            zeros=0.12,
            find=0.9,
            record=RECORD,
        ),
        site=site,
        truth=False,
    )


def write_sample_logs(destination: str | Path) -> Path:
    """Write the sample folder and return it."""
    folder = Path(destination)
    folder.mkdir(parents=True, exist_ok=True)
    garden = sample_garden()
    rng = np.random.default_rng([SEED, 9])
    (folder / "garden.toml").write_text(SETTINGS, "utf-8", newline="\n")
    _write(folder / "plantings.csv", _typed_plantings())
    picks = _typed_picks(garden.picks, rng)
    for year in (2025, 2026):
        mine = [row for row in picks[1:] if row[0].startswith(str(year))]
        _write(folder / f"picks-{year}.csv", [picks[0], *mine])
    observed = garden.weather[garden.weather["date"] <= LAST_DAY]
    _write(folder / "weather.csv", _typed_weather(observed))
    _write(folder / "weather-forecast.csv", _typed_forecast(garden.weather, rng))
    _write(folder / "pantry.csv", _typed_pantry(garden.picks, rng))
    return folder


def _varieties() -> pd.DataFrame:
    rows = []
    for crop, variety, fruits, flower, length, weight in VARIETIES:
        nature = CROPS[crop]
        rows.append(
            {
                "crop": crop,
                "variety": variety,
                "fruits": nature.fruits * fruits,
                "flower_dd": nature.flower_dd * flower,
                "ripen_dd": nature.ripen_dd,
                "length_dd": nature.length_dd * length,
                "fruit_kg": nature.fruit_kg * weight,
            }
        )
    return pd.DataFrame(rows)


def _plantings() -> pd.DataFrame:
    rows = [
        (crop, variety, bed, f"{year}-{day}", how, number)
        for crop, variety, bed, *days, how, old, new, _ in PLANTINGS
        for year, day, number in ((2025, days[0], old), (2026, days[1], new))
    ]
    return pd.DataFrame(rows, columns=["crop", "variety", "bed", "date", "how", "plants"])


def _typed_plantings() -> list[list[str]]:
    rows = []
    for crop, variety, bed, *days, how, old, new, row_ft in PLANTINGS:
        for year, day, number in ((2025, days[0], old), (2026, days[1], new)):
            name = SPOKEN[crop][year - 2025].lower()
            rows.append([f"{year}-{day}", name, variety, bed, how, str(number), str(row_ft or "")])
    return [["date", "crop", "variety", "bed", "how", "plants", "row_ft"], *sorted(rows)]


def _typed_picks(picks: pd.DataFrame, rng: np.random.Generator) -> list[list[str]]:
    heading = ["date", "crop", "variety", "count", "weight_lb", "grade", "hours", "note"]
    rows = []
    seen: set[tuple[str, int]] = set()
    for pick in picks[picks["date"] <= LAST_DAY].itertuples():
        year = pick.date.year
        way = RECORD[pick.crop]
        count = "" if way == "weight" else f"{pick.count:.0f}"
        weight = "" if way == "count" else f"{pick.mass_kg / LB:.1f}"
        if weight == "0.0" and pick.mass_kg > 0:
            weight = "0.1"
        hours = ""
        # They time only the beans, which take longest.
        if pick.crop == "snap bean" and pick.mass_kg > 0.5:
            hours = f"{max(0.1, pick.mass_kg / 4.5 * rng.uniform(0.8, 1.25)):.1f}"
        note = ""
        if (pick.variety, year) not in seen and pick.mass_kg != 0 and pick.count != 0:
            seen.add((pick.variety, year))
            note = "first of the year"
        elif pick.grade == "oversize" and rng.random() < 0.25:
            note = str(rng.choice(["hid under the leaves", "to the hens", "missed these"]))
        grade = "" if pick.grade == "good" else pick.grade
        if grade == "damaged" and way == "weight" and pick.mass_kg < 0.2:
            continue  # nobody writes down two spoiled pods
        rows.append(
            [
                f"{pick.date:%Y-%m-%d}",
                SPOKEN[pick.crop][year - 2025],
                pick.variety,
                count,
                weight,
                grade,
                hours,
                note,
            ]
        )
    # The one slip of the pen: a line written twice.
    twice = next(
        i for i, row in enumerate(rows) if row[0] > "2026-07-12" and row[2] == "Barge Pole"
    )
    rows.insert(twice + 1, list(rows[twice]))
    return [heading, *rows]


def _fahrenheit(celsius: float) -> str:
    return f"{celsius * 9 / 5 + 32:.0f}"


def _typed_weather(days: pd.DataFrame) -> list[list[str]]:
    rows = [["date", "tmin_f", "tmax_f", "rain_in"]]
    for day in days.itertuples():
        # The station was out of order for two days in June 2024.
        if pd.Timestamp("2024-06-11") <= day.date <= pd.Timestamp("2024-06-12"):
            rows.append([f"{day.date:%Y-%m-%d}", "", "", ""])
            continue
        low, high = _fahrenheit(day.tmin_c), _fahrenheit(day.tmax_c)
        rows.append([f"{day.date:%Y-%m-%d}", low, high, f"{day.rain_mm / INCH_MM:.2f}"])
    return rows


def _typed_forecast(weather: pd.DataFrame, rng: np.random.Generator) -> list[list[str]]:
    """A forecast of seven days: the simulated truth with errors that grow by the day."""
    rows = [["date", "tmin_f", "tmax_f", "rain_in", "issued"]]
    ahead = weather[weather["date"] > LAST_DAY].head(7)
    for number, day in enumerate(ahead.itertuples(), 1):
        error = rng.normal(0, 0.3 + 0.15 * number)
        rows.append(
            [
                f"{day.date:%Y-%m-%d}",
                _fahrenheit(day.tmin_c + error),
                _fahrenheit(day.tmax_c + error),
                f"{round(day.rain_mm / INCH_MM, 1):.1f}",
                f"{LAST_DAY:%Y-%m-%d}",
            ]
        )
    return rows


def _typed_pantry(picks: pd.DataFrame, rng: np.random.Generator) -> list[list[str]]:
    """Last year's batches, the winter's meals and this year's first batches, by day."""
    rows: list[list[str]] = []
    shelf: list[tuple[pd.Timestamp, str, int]] = []
    for day, product, jar, used, promised, hours in _batches(picks):
        # This household packs tight: it fills fewer jars than the recipe promises.
        filled = max(1, round(promised * rng.normal(0.84, 0.06)))
        took = max(0.5, hours * rng.normal(1.15, 0.12))
        sealed = rng.random() >= 0.08 or "bag" in jar
        note = "" if sealed else "one lid did not seal"
        rows.append(
            [f"{day:%Y-%m-%d}", product, jar, f"{filled}", f"{used:.0f}", f"{took:.1f}", note]
        )
        shelf.append((day, product, filled))
    # Every other Sunday somebody writes down what was eaten.
    for product, jar, *_ in PUT_UP:
        old = sum(n for day, name, n in shelf if name == product and day.year == 2025)
        pace = old / 20 * (0.55 if product == SLOW_SELLER else 1.05)
        eaten = 0
        for sunday in pd.date_range("2025-10-05", LAST_DAY, freq="14D"):
            there = sum(n for day, name, n in shelf if name == product and day < sunday) - eaten
            taken = min(there, int(rng.poisson(pace)))
            if taken > 0:
                eaten += taken
                rows.append([f"{sunday:%Y-%m-%d}", product, jar, f"-{taken}", "", "", ""])
    heading = ["date", "product", "jar", "jars", "produce_lb", "hours", "note"]
    return [heading, *sorted(rows)]


def _batches(picks: pd.DataFrame) -> list[tuple[pd.Timestamp, str, str, float, int, float]]:
    """Return the batches that the fresh picks allow: day, product, jar, pounds, jars, hours."""
    pounds = _pounds(picks[(picks["date"] <= LAST_DAY) & (picks["grade"] == "good")])
    made = []
    for year in (2025, 2026):
        done = dict.fromkeys([put_up[0] for put_up in PUT_UP], 0)
        last = dict.fromkeys(done, pd.Timestamp("2000-01-01"))
        lying: dict[str, list[tuple[pd.Timestamp, float]]] = {crop: [] for crop in FRESH}
        for day, row in pounds.loc[f"{year}-05-01" : f"{year}-11-15"].iterrows():
            for crop, (days, table) in FRESH.items():
                oldest = day - pd.Timedelta(days=days)
                lying[crop] = [(when, lb) for when, lb in lying[crop] if when >= oldest]
                lying[crop].append((day, row[crop]))
                _take(lying[crop], table)
            room = 2 if day.weekday() >= 5 else 1
            # Of two products of one crop, the one made less often is next.
            for product, jar, crop, batch, promised, hours, *most in sorted(
                PUT_UP, key=lambda put_up: done[put_up[0]]
            ):
                there = sum(lb for _, lb in lying[crop])
                rested = (day - last[product]).days >= 5
                if room and there >= batch and rested and done[product] < most[year - 2025]:
                    room -= 1
                    _take(lying[crop], batch)
                    made.append((day, product, jar, batch, promised, hours))
                    done[product] += 1
                    last[product] = day
    return made


def _take(lying: list[tuple[pd.Timestamp, float]], pounds: float) -> None:
    """Take produce off a list of (day, pounds), oldest first."""
    while lying and pounds > 0:
        day, there = lying[0]
        if there > pounds:
            lying[0] = (day, there - pounds)
            return
        pounds -= there
        lying.pop(0)


def _pounds(picks: pd.DataFrame) -> pd.DataFrame:
    """Return pounds per day and crop; counted crops by the nature of the variety."""
    fruit = _varieties().set_index("variety")["fruit_kg"]
    mass = picks["mass_kg"].fillna(picks["count"] * picks["variety"].map(fruit))
    long = mass.groupby([picks["date"], picks["crop"]]).sum().reset_index(name="lb")
    table = long.pivot_table(index="date", columns="crop", values="lb", fill_value=0.0)
    return table.asfreq("D", fill_value=0.0) / LB


def _write(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    write_sample_logs(sys.argv[1] if len(sys.argv) > 1 else ROOT / "sample_logs")
