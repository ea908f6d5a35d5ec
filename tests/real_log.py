"""Turn the real household log of 2020 into a garden folder.

The log is read where it stands when a test runs and is no part of the project. What a garden
folder needs and the log does not say (settings of the household, how a crop was planted) is
invented here and said to be so, in the comments of the ``garden.toml`` that is written.
"""

from pathlib import Path

import pandas as pd

from tests.conftest import shared_file

LOG = "data/home_garden_2020"

# The log gives a number of seeds for sown crops and of plants for set-out ones, but does not
# say which is which. These were most likely set out (inferred from number and date; common
# practice at that latitude, no source).
SET_OUT = frozenset(
    {"tomatoes", "peppers", "hot peppers", "jalapeño", "brussels sprouts", "strawberries", "onions"}
)
SET_OUT_FEW = {"broccoli": 10}  # set out where at most this many stand in one row

SETTINGS = """\
# Written by a test helper for a real log of picks. The log says nothing about the household:
# every setting in this file is INVENTED, except the elevation, which is about that of the
# weather station nearby (the log does not say where the garden is; nearby weather is assumed).
place = "place not stated; weather of a city nearby"
elevation_m = 250
units = "us"
people = 4                      # invented
last_frost = "05-10"            # invented, plausible for that weather
first_frost = "10-05"           # invented, plausible for that weather
day_without_row = "not_picked"  # the log has no zeros: a day without a row may be either

# The squash of this log are winter types (told by their varieties).
[crops."winter squash"]
aliases = ["squash"]

# Everything below is invented.
[[equipment]]
kind = "boiling_water_canner"
pints = 9
quarts = 7

[[equipment]]
kind = "pressure_canner"
gauge = "weighted"
pints = 9
quarts = 7

[[equipment]]
kind = "dryer"
trays = 6
tray_area_m2 = 0.1

[[equipment]]
kind = "freezer"
free_l = 80

[[equipment]]
kind = "refrigerator"
free_l = 60

[[equipment]]
kind = "cool_store"
free_l = 200

[hours]
monday = 1.5
tuesday = 1
wednesday = 1.5
thursday = 1
friday = 1
saturday = 4
sunday = 2

[jars]
half_pint = 12
pint = 40
quart = 24
lids = 60
freezer_bags = 60

[targets]
"canned tomatoes" = 24
"tomato sauce" = 12
"dill pickles" = 12
"frozen snap beans" = 15
"frozen sweet corn" = 8
"frozen spinach" = 6
"""


def garden_folder_from_real_log(
    destination: str | Path, *, as_of: str | pd.Timestamp | None = None
) -> Path:
    """Write the real log as a garden folder, or skip the calling test where it is absent.

    Parameters
    ----------
    destination : path
        Folder to write; made where missing.
    as_of : date, optional
        Last day known: later picks, plantings and weather are left out of the folder.

    Returns
    -------
    pathlib.Path
        The folder, with garden.toml, plantings.csv, picks.csv and weather.csv (2010 to 2020).
    """
    folder = Path(destination)
    folder.mkdir(parents=True, exist_ok=True)
    tables = {
        "picks.csv": _picks(_read("picks.csv")),
        "plantings.csv": _plantings(_read("plantings.csv")),
        "weather.csv": _weather(_read("weather.csv")),
    }
    for name, table in tables.items():
        if as_of is not None:
            last = pd.Timestamp(as_of).strftime("%Y-%m-%d")
            # Dates are ISO text here, so they sort as text; an empty date is kept.
            table = table[table["date"].isna() | (table["date"] <= last)]
        table.to_csv(folder / name, index=False)
    (folder / "garden.toml").write_text(SETTINGS, "utf-8")
    return folder


def _read(name: str) -> pd.DataFrame:
    return pd.read_csv(shared_file(f"{LOG}/{name}"), dtype="string")


def _picks(raw: pd.DataFrame) -> pd.DataFrame:
    # Grams, as the unit column says; names and repeated rows stay as they were typed.
    return raw.rename(columns={"vegetable": "crop", "units": "unit"})[
        ["date", "crop", "variety", "weight", "unit"]
    ]


def _plantings(raw: pd.DataFrame) -> pd.DataFrame:
    table = raw.rename(
        columns={"vegetable": "crop", "plot": "bed", "number_seeds_planted": "plants"}
    )
    number = table["plants"].astype("float64")
    few = table["crop"].map(SET_OUT_FEW).astype("float64")
    set_out = table["crop"].isin(SET_OUT) | (number <= few)
    table["how"] = set_out.map({True: "set_out", False: "sown"})
    return table[["crop", "variety", "bed", "date", "how", "plants", "notes"]].rename(
        columns={"notes": "note"}
    )


def _weather(raw: pd.DataFrame) -> pd.DataFrame:
    # A trace of rain ("T") counts as none; "M" is missing.
    rain = raw["precip_in"].replace({"T": "0"}).mask(raw["precip_in"] == "M")
    return pd.DataFrame(
        {"date": raw["date"], "tmin_f": raw["tmin_f"], "tmax_f": raw["tmax_f"], "rain_in": rain}
    )
