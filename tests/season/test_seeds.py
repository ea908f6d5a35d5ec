"""The seed list and the days to sow indoors, against the published figures they rest on."""

from dataclasses import replace
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.writing.report_file import csv_text
from harvestcast.season.next.options import PlantingOption, planting_options
from harvestcast.season.next.seeds import (
    SPARE,
    indoor_days,
    planting_figures,
    seed_table,
    seeds_for,
)
from tests.season.gardens import tomatoes


@pytest.mark.parametrize(
    ("crop", "share"),
    [("tomato", 0.75), ("okra", 0.50), ("pea", 0.80), ("hot pepper", 0.55), ("chard", 0.65)],
)
def test_least_germination_is_the_federal_standard(crop: str, share: float) -> None:
    """USDA, 7 CFR 201.31 (59 FR 64491, 1994), seen in a reprint."""
    assert planting_figures(crop).germination == share
    assert planting_figures(crop).sources["germination"][1] == "reprint"


def test_weeks_indoors_are_those_of_the_extension_services() -> None:
    """Tomato 6 to 8, pepper 7 to 10: University of Maine, 2020; cabbage 4 to 5: Iowa State."""
    for crop, low, high in (("tomato", 6, 8), ("sweet pepper", 7, 10), ("cabbage", 4, 5)):
        figures = planting_figures(crop)
        assert (figures.weeks_low, figures.weeks_high) == (low, high)
        assert figures.sources["weeks"][1] == "read"
    assert np.isnan(planting_figures("pea").weeks_low)  # sown in place


def test_families_and_years_apart() -> None:
    """Iowa State University: two to three years between crops of one family (read)."""
    for crop, family in (("tomato", "Solanaceae"), ("hot pepper", "Solanaceae"),
                         ("pea", "Fabaceae"), ("zucchini", "Cucurbitaceae"),
                         ("kale", "Brassicaceae")):  # fmt: skip
        figures = planting_figures(crop)
        assert figures.family == family and figures.years_apart >= 2
        assert figures.sources["family"][1] == "read"


def test_every_crop_has_a_row_and_every_figure_a_source() -> None:
    path = files("harvestcast.season.next") / "data" / "planting.csv"
    with path.open(encoding="utf-8") as file:
        table = pd.read_csv(file, keep_default_na=False, dtype=str)
    assert table["crop"].is_unique
    assert all(crop_facts(crop).known for crop in table["crop"])
    for figure, source, seen in (
        ("family", "family_source", "family_read"),
        ("weeks_low", "weeks_source", "weeks_read"),
        ("seeds_per_gram", "seeds_source", "seeds_read"),
        ("germination_pct", "germination_source", "seeds_read"),
    ):
        has = table[figure] != ""
        assert has.any()
        assert (table.loc[has, source] != "").all()
        assert table.loc[has, seen].isin(["read", "reprint", "memory"]).all()
    low, high = (pd.to_numeric(table[f"weeks_{end}"]) for end in ("low", "high"))
    assert (low.dropna() <= high.dropna()).all()


def test_seeds_are_those_that_come_up_and_some_to_spare() -> None:
    figures = planting_figures("tomato")
    seeds, grams = seeds_for(30, "set_out", figures)
    assert seeds == np.ceil(30 * SPARE["set_out"] / 0.75)
    assert grams == pytest.approx(seeds / 388)  # a trade chart: 11,000 in an ounce
    assert all(np.isnan(seeds_for(10, "set_out", planting_figures("moonroot"))))


def test_what_is_sown_in_place_is_not_sown_indoors() -> None:
    day = pd.Timestamp("2027-05-15")
    assert indoor_days(day, "sown", planting_figures("cucumber")) == (pd.NaT, pd.NaT)
    first, last = indoor_days(day, "set_out", planting_figures("cucumber"))
    assert (day - first).days == 28 and (day - last).days == 21


def _plan() -> tuple[list[PlantingOption], np.ndarray]:
    options = [
        replace(one, variety="=HYPERLINK(1)" if one.variety == "Many" else one.variety)
        for one in planting_options(tomatoes(), year=2027, sowings=1)
    ]
    return options, np.arange(1.0, len(options) + 1)


def test_the_list_has_one_row_a_variety_and_runs_nothing_in_a_spreadsheet() -> None:
    options, plants = _plan()
    twice = [*options, replace(options[0], date=options[0].date + pd.Timedelta(weeks=3))]
    table = seed_table(twice, np.append(plants, 5.0))
    assert len(table) == len(options)
    first = table[table["variety"] == options[0].variety].iloc[0]
    assert first["sowings"] == 2 and first["plants"] == 6
    assert first["in_bed"] == options[0].date
    assert "\ntomato,'=HYPERLINK(1)," in csv_text(table)
    assert len(seed_table(options, np.zeros(len(options)))) == 0
