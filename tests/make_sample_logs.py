"""Write sample_logs/: the invented gardens that come with the project.

``python -m tests.make_sample_logs`` writes them anew from their seeds; a test compares the bytes.
The villages, the households, their weather stations, and every variety name are made up. Crops,
plants and weather come out of the simulator in ``tests/simulated``. Here stands the garden of
Quillmarsh; the one in the south, ``sample_logs/south``, stands in ``tests/sample_south.py``.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from tests.sample_south import write_south
from tests.sample_texts import KITCHEN, SETTINGS
from tests.simulated import CROPS, Habits, SimulatedGarden, Site, grow_garden, simulate_weather
from tests.simulated.long_crops import LongCrop, grow_long

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
    ("tomato", "Sallowmere", 0.75, 1.1, 0.9, 0.9),
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

# The first year of the log, in a smaller garden: crop, variety, bed, month-day, how, plants, row.
FIRST_YEAR = (
    ("pea", "Early Whistle", "north 1", "04-10", "sown", 160, 54),
    ("chard", "Ditchlight", "north 2", "04-26", "sown", 10, 10),
    ("snap bean", "Patterwick", "long bed", "05-14", "sown", 120, 40),
    ("cucumber", "Crispwick", "trellis", "05-18", "sown", 18, 20),
    ("cucumber", "Long Friar", "trellis", "05-18", "sown", 8, 10),
    ("zucchini", "Barge Pole", "compost end", "05-15", "sown", 4, None),
    ("sweet corn", "Gold Rattle", "field", "05-12", "sown", 90, None),
    ("tomato", "Kettle Red", "south 1", "05-20", "set_out", 14, 30),
    ("tomato", "Plumb Bob", "south 1", "05-20", "set_out", 12, 26),
    ("tomato", "Marsh Bishop", "south 2", "05-20", "set_out", 6, 14),
    ("tomato", "Sallowmere", "south 2", "05-20", "set_out", 5, 12),
    ("sweet pepper", "Bellowsgate", "south 3", "05-25", "set_out", 10, 15),
    ("winter squash", "Doorstop", "field", "05-16", "sown", 8, None),
)

# What stands through the winter, for years, or under glass.
LONG = (
    LongCrop(crop="garlic", variety="Tollgate", bed="north 3", how="set_out",
             planted=(("2023-10-14", 90, "2024-07-20"), ("2024-10-12", 110, "2025-07-12"),
                      ("2025-10-11", 120, "2026-07-23")), kg=0.06,
             piece_kg=0.06, base_c=0.0, first_dd=1500, last_dd=1560, heat_from="01-01", once=True),
    LongCrop(crop="strawberry", variety="Dimple Lane", bed="strawberry bed", how="set_out",
             planted=(("2023-04-22", 45, ""),), kg=0.42, piece_kg=0.012, base_c=0.0, first_dd=760,
             last_dd=1270, every=1.8, heat_from="01-01", years=4),
    LongCrop(crop="kale", variety="Frostwick", bed="north 2",
             how="sown",
             planted=(("2024-07-13", 18, "2025-04-26"), ("2025-07-12", 24, "2026-04-25"),
                      ("2026-07-11", 24, "")),
             kg=0.95, piece_kg=0.22, base_c=3.0, first_dd=1000, last_dd=2250, every=6.0,
             kill_c=-21.0),
    LongCrop(crop="spinach", variety="Windowlight", bed="glass", how="sown",
             planted=(("2025-09-13", 90, "2026-04-25"),), kg=0.16, piece_kg=0.15, base_c=1.0,
             first_dd=420, last_dd=1550, every=6.0, cover="glass", lift_c=4.0),
    LongCrop(crop="cherry tomato", variety="Glasswren", bed="glass", how="set_out",
             planted=(("2025-04-26", 6, "2025-10-18"), ("2026-04-18", 7, "")), kg=3.2,
             piece_kg=0.016, base_c=9.0, first_dd=560, last_dd=2400, every=2.2, cover="glass",
             lift_c=4.0),
)  # fmt: skip
LONG_WAYS = {"garlic": "both", "cherry tomato": "both"}
"""What is counted as well as weighed; the rest is weighed."""

# What somebody thought worth a note: the first line without one, from the day on.
NOTES = (
    ("2024-08-12", "Sallowmere", "mealy, nobody finished them"),
    ("2024-09-02", "Kettle Red", "good for sauce, little juice"),
    ("2025-06-12", "Early Whistle", "sweetest so far"),
    ("2025-08-04", "Miller's Tooth", "sweetest so far"),
    ("2025-08-10", "Marsh Bishop", "best on bread"),
    ("2025-09-06", "Copperkin", "split after the rain"),
    ("2026-02-01", "Frostwick", "sweet after the frosts"),
    ("2026-06-08", "Dimple Lane", "sweetest so far"),
    ("2026-07-08", "Long Friar", "bitter at the stem end"),
    ("2026-07-15", "Glasswren", "sweet, the children eat them all"),
)
# Two spellings that slipped in this year: variety, as written, from this day on, how often.
SPELT = (("Barge Pole", "Bargepole", "2026-07-17", 2), ("Crispwick", "crisp-wick", "2026-07-21", 1))

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
    "garlic": ("Garlic", "garlic"),
    "strawberry": ("Strawberries", "strawberries"),
    "kale": ("Kale", "kale"),
    "spinach": ("Spinach", "spinach"),
    "cherry tomato": ("Cherry tomatoes", "cherry tomatoes"),
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
    heading, lines = _all_picks(garden, rng)
    for year in (2024, 2025, 2026):
        mine = [line for line in lines if line[0].startswith(str(year))]
        _write(folder / f"picks-{year}.csv", [heading, *mine])
    observed = garden.weather[garden.weather["date"] <= LAST_DAY]
    _write(folder / "weather.csv", _typed_weather(observed))
    _write(folder / "weather-forecast.csv", _typed_forecast(garden.weather, rng))
    lately = garden.picks[garden.picks["date"] >= "2025"]
    _write(folder / "kitchen.csv", _typed_kitchen(lately, rng))
    write_south(folder / "south")
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
    rows += [
        (crop, variety, bed, f"2024-{day}", how, number)
        for crop, variety, bed, day, how, number, _ in FIRST_YEAR
    ]
    return pd.DataFrame(rows, columns=["crop", "variety", "bed", "date", "how", "plants"])


def _typed_plantings() -> list[list[str]]:
    rows = []
    for crop, variety, bed, *days, how, old, new, row_ft in PLANTINGS:
        for year, day, number in ((2025, days[0], old), (2026, days[1], new)):
            name = SPOKEN[crop][year - 2025].lower()
            rows.append(
                [f"{year}-{day}", name, variety, bed, how, str(number), str(row_ft or ""), ""]
            )
    for crop, variety, bed, day, how, number, row_ft in FIRST_YEAR:
        name = SPOKEN[crop][0].lower()
        rows.append(
            [f"2024-{day}", name, variety, bed, how, str(number), str(row_ft or ""), "", ""]
        )
    for one in LONG:
        name = SPOKEN[one.crop][1]
        rows += [
            [day, name, one.variety, one.bed, one.how, str(number), "", one.cover, removed]
            for day, number, removed in one.planted
        ]
    return [["date", "crop", "variety", "bed", "how", "plants", "row_ft", "cover", "removed"],
            *sorted(rows)]  # fmt: skip


def _all_picks(
    garden: SimulatedGarden, rng: np.random.Generator
) -> tuple[list[str], list[list[str]]]:
    """Return the heading and the lines of all years, notes and slips of the pen with them."""
    first = garden.picks["date"] < "2025"
    heading, *lines = _typed_picks(garden.picks[~first], rng)
    own = np.random.default_rng([SEED, 10])
    lines += _typed_picks(garden.picks[first], own, slip=False)[1:]
    long = grow_long(own, LONG, garden.weather, _goes(own, garden))
    long["grade"] = "good"
    lines += _typed_picks(long[long["date"] >= "2024-04-01"], own, slip=False)[1:]
    lines.sort(key=lambda line: line[0])
    for day, variety, note in NOTES:
        next(x for x in lines if x[0] >= day and x[2] == variety and not x[7])[7] = note
    for variety, written, day, times in SPELT:
        for line in [x for x in lines if x[0] >= day and x[2] == variety][:times]:
            line[2] = written
    return heading, lines


def _goes(rng: np.random.Generator, garden: SimulatedGarden) -> np.ndarray:
    """Return the days on which somebody goes to the garden: those of the log, and winter's."""
    days = garden.weather["date"]
    chance = np.asarray(garden.habits.weekdays)[days.dt.day_of_week]
    summer = days.dt.month.between(6, 10) & (days >= "2024")
    return np.where(summer, days.isin(garden.picks["date"]), rng.random(len(days)) < chance)


def _typed_picks(
    picks: pd.DataFrame, rng: np.random.Generator, *, slip: bool = True
) -> list[list[str]]:
    heading = ["date", "crop", "variety", "count", "weight_lb", "grade", "hours", "note"]
    rows = []
    seen: set[tuple[str, int]] = set()
    for pick in picks[picks["date"] <= LAST_DAY].itertuples():
        year = pick.date.year
        way = RECORD.get(pick.crop) or LONG_WAYS.get(pick.crop, "weight")
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
                SPOKEN[pick.crop][max(0, year - 2025)],
                pick.variety,
                count,
                weight,
                grade,
                hours,
                note,
            ]
        )
    if not slip:
        return [heading, *rows]
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


def _typed_kitchen(picks: pd.DataFrame, rng: np.random.Generator) -> list[list[str]]:
    """Last year's batches, the winter's meals, this year's first batches and counts, by day."""
    rows: list[list[str]] = list(csv.reader(KITCHEN.splitlines()))
    shelf: list[tuple[pd.Timestamp, str, int]] = []
    for day, product, jar, used, promised, hours in _batches(picks):
        # This household packs tight: it fills fewer jars than the recipe promises.
        filled = max(1, round(promised * rng.normal(0.84, 0.06)))
        took = max(0.5, hours * rng.normal(1.15, 0.12))
        sealed = rng.random() >= 0.08 or "bag" in jar
        note = "" if sealed else "one lid did not seal"
        rows.append(
            [f"{day:%Y-%m-%d}", "put up", product, jar, f"{filled}", f"{used:.0f}", f"{took:.1f}",
             note]
        )  # fmt: skip
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
                rows.append([f"{sunday:%Y-%m-%d}", "used", product, jar, f"{taken}", "", "", ""])
    heading = ["date", "what", "item", "jar", "amount", "produce_lb", "hours", "note"]
    return [heading, *sorted(rows, key=lambda row: row[0])]


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
