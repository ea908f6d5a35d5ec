"""The crop almanac against published tables, and the household's overrides."""

import csv
import pickle
from importlib import resources

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from harvestcast.errors import InputError
from harvestcast.growth.crops.almanac import (
    GENERIC,
    REFERENCE_CLIMATE,
    crop_facts,
    crops,
    daily_heat,
    heat_start,
    reference_year,
)
from harvestcast.growth.crops.degree_days import METHODS, accumulate
from harvestcast.records.household import Household

KG_PER_LB = 0.45359237
KG_M_PER_LB_100FT = KG_PER_LB / 30.48

# Rows of published tables to the almanac's crops.
CROP_OF_ROW = {
    "snap_bean_bush": "snap bean",
    "snap_bean_pole": "snap bean",
    "beet": "beet",
    "cucumber": "cucumber",
    "cucumber_slicing": "cucumber",
    "cucumber_pickling": "cucumber",
    "eggplant": "eggplant",
    "okra": "okra",
    "pea_english": "pea",
    "pea": "pea",
    "pepper": "sweet pepper",
    "bell_pepper": "sweet pepper",
    "pepper_sweet": "sweet pepper",
    "banana_pepper": "banana pepper",
    "jalapeno": "hot pepper",
    "summer_squash": "summer squash",
    "winter_squash": "winter squash",
    "zucchini": "zucchini",
    "onion": "onion",
    "onion_plants_or_sets": "onion",
    "sweet_corn": "sweet corn",
    "tomato": "tomato",
    "tomato_determinate": "tomato",
    "tomato_indeterminate": "tomato",
    "lettuce_leaf": "lettuce",
    "lettuce_head": "lettuce",
    "asparagus": "asparagus",
    "strawberry": "strawberry",
}
# Kansas State University MF-315, Vegetable Garden Planting Guide: pounds per 100 ft row (read).
KANSAS_STATE_MF315 = {
    "snap bean": (120, 150),
    "beet": (150, 150),
    "cucumber": (120, 120),
    "eggplant": (100, 100),
    "okra": (100, 100),
    "pea": (20, 20),
    "sweet pepper": (60, 60),
    "summer squash": (150, 150),
    "onion": (100, 100),
}
# Michigan State University Extension, Home Horticulture facts 01701369 (read; per 10 ft there).
MICHIGAN_STATE = {"beet": (100, 100), "asparagus": (30, 30)}


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("harvestcast.growth.crops").joinpath("data", name).read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize("table", [KANSAS_STATE_MF315, MICHIGAN_STATE], ids=["kansas", "michigan"])
def test_published_row_yields_lie_in_the_prior(table: dict) -> None:
    for crop, (low, high) in table.items():
        prior_low, prior_high = crop_facts(crop).yield_kg_per_m
        # Three figures are carried, so the ends may be off by half a unit in the third.
        assert prior_low <= low * KG_M_PER_LB_100FT * 1.005, crop
        assert prior_high >= high * KG_M_PER_LB_100FT * 0.995, crop


@pytest.mark.parametrize(
    ("low", "high", "prior", "scale"),
    [
        ("yield_lb_per_100ft_low", "yield_lb_per_100ft_high", "yield_kg_per_m", KG_M_PER_LB_100FT),
        ("yield_lb_per_plant_low", "yield_lb_per_plant_high", "yield_kg_per_plant", KG_PER_LB),
    ],
)
def test_the_handbook_yields_bracket_the_priors(shared, low, high, prior, scale) -> None:
    """The middle of the prior lies within what the published rows of the crop span."""
    table = pd.read_csv(shared("handbook/yields.csv"))
    table["almanac"] = table["crop"].map(CROP_OF_ROW)
    rows = table.dropna(subset=["almanac", low, high])
    assert rows["almanac"].nunique() >= 12
    for crop, group in rows.groupby("almanac"):
        ends = np.array(getattr(crop_facts(crop), prior)) / scale
        assert group[low].min() * 0.995 <= np.sqrt(ends.prod()) <= group[high].max() * 1.005, crop
        # ... and the prior is no narrower than any one of them says.
        assert ends[0] <= group[high].min() * 1.005, crop
        assert ends[1] >= group[low].max() * 0.995, crop


def test_the_handbook_days_to_first_harvest(shared) -> None:
    """Days in the reference climate; a crop with degree-days of its own is checked elsewhere."""
    table = pd.read_csv(shared("handbook/yields.csv"))
    table["almanac"] = table["crop"].map(CROP_OF_ROW)
    rows = table.dropna(subset=["almanac", "days_to_first_harvest_low"])
    rows = rows[~rows["almanac"].isin(["snap bean", "pea", "strawberry"])]
    almanac = {row["crop"]: row for row in _rows("crops.csv")}
    for crop, group in rows.groupby("almanac"):
        facts, row = crop_facts(crop), almanac[crop]
        a_day = daily_heat(facts, *REFERENCE_CLIMATE[row["climate"]]).item()
        sown = row["counted_from"] == "sown"
        heat = facts.dd_to_first_pick if sown else facts.dd_to_first_pick_set_out
        assert (
            group["days_to_first_harvest_low"].min()
            <= heat / a_day
            <= group["days_to_first_harvest_high"].max()
        ), crop


def test_published_heat_to_first_pick() -> None:
    """Published totals fall inside the middle 80 % of the prior."""
    published = {
        # Oregon State University (July 1969), bush snap beans: 800 to 1160 degF d above 50 degF.
        "snap bean": [800 / 1.8, 1160 / 1.8],
        # University of Delaware, Weekly Crop Update: pea, 1250 degF d above 40 degF (fastest).
        "pea": [1250 / 1.8],
        # Soto-Ortiz & Silvertooth, University of Arizona: melon, 1297 degF d (55/86 degF, sine).
        "melon": [1297 / 1.8],
        # Souza et al. (2017) Agrociencia Uruguay 21(2): Cucurbita moschata, 985.5 degC d, 12/35.
        "winter squash": [985.5],
    }
    for crop, values in published.items():
        facts = crop_facts(crop)
        for value in values:
            z = np.log(value / facts.dd_to_first_pick) / facts.first_pick_log_sd
            assert 0.1 <= norm.cdf(z) <= 0.9, (crop, value)


def test_thresholds_of_the_published_table(shared) -> None:
    table = pd.read_csv(shared("science/crop_thresholds.csv"))
    rules = {
        "cucumber": "cucumber",
        "tomato": "tomato (processing)",
        "snap bean": "snap bean (bush)",
        "pea": "pea",
        "sweet corn": "sweet corn",
        "winter squash": "squash C. moschata",
        "melon": "melon (cantaloupe Arizona)",
        "hot pepper": "chile pepper",
        "lettuce": "lettuce",
        "strawberry": "strawberry (leaf appearance)",
    }
    for crop, label in rules.items():
        row = table[(table["crop"] == label) & table["base_c"].notna()].iloc[0]
        facts = crop_facts(crop)
        assert facts.base_c == row["base_c"], crop
        if not np.isnan(row["upper_c"]):
            assert facts.upper_c == row["upper_c"], crop
    assert crop_facts("cucumber").heat_method == "reduced_maximum"
    assert crop_facts("hot pepper").heat_method == "clipped_average"


def test_reference_climates_lie_near_measured_ones(shared) -> None:
    """Against eleven years of daily weather from the north-central United States."""
    weather = pd.read_csv(shared("data/home_garden_2020/weather.csv"), parse_dates=["date"])
    day = weather["date"].dt.strftime("%m-%d")
    for climate, (start, end) in {"warm": ("05-20", "08-10"), "cool": ("04-15", "06-30")}.items():
        season = weather[(day >= start) & (day <= end)]
        low, high = REFERENCE_CLIMATE[climate]
        assert season["tmin_c"].mean() == pytest.approx(low, abs=1.5)
        assert season["tmax_c"].mean() == pytest.approx(high, abs=1.5)
    smooth = accumulate(reference_year(), "2025-01-01", base_c=5, upper_c=30)
    totals = [
        accumulate(group.dropna(subset=["tmin_c", "tmax_c"]), f"{year}-01-01", base_c=5, upper_c=30)
        for year, group in weather.groupby(weather["date"].dt.year)
    ]
    for day_of_year in (150, 180, 210, 240):
        measured = np.nanmean([total.iloc[day_of_year] for total in totals])
        assert smooth.iloc[day_of_year] == pytest.approx(measured, rel=0.12)


def test_the_almanac_has_the_crops_that_the_records_know() -> None:
    text = resources.files("harvestcast.records.typed").joinpath("data/crop_names.csv")
    names = {row["crop"] for row in csv.DictReader(text.read_text("utf-8").splitlines())}
    assert names == set(crops())


@pytest.mark.parametrize("crop", [*crops(), GENERIC])
def test_every_row_is_whole_and_plausible(crop: str) -> None:
    facts = crop_facts(crop)
    assert facts.known == (crop != GENERIC)
    assert -1 < facts.base_c < facts.upper_c <= 36
    assert facts.heat_method in METHODS
    assert 100 < facts.dd_to_first_pick_set_out <= facts.dd_to_first_pick < 3000
    assert 0.1 <= facts.first_pick_log_sd < 0.7
    assert facts.habit in ("determinate", "indeterminate", "cut_again", "once_over")
    assert 0 < facts.picking_weeks[0] < facts.picking_weeks[1] <= 25
    assert 0 < facts.fruit_kg_range[0] < facts.fruit_kg < facts.fruit_kg_range[1]
    assert facts.fruit_sd_kg > 0
    for low, high in (facts.yield_kg_per_plant, facts.yield_kg_per_m):
        assert 0 < low < high
    # The two yields must not contradict each other at the usual spacing.
    per_m = np.array(facts.yield_kg_per_plant) * facts.plants_per_m_row
    assert per_m[0] < facts.yield_kg_per_m[1]
    assert per_m[1] > facts.yield_kg_per_m[0]
    assert 0 < facts.spacing_m2 < 30
    assert facts.kill_c <= -1
    assert 1 <= facts.pick_every_days <= 14
    assert 0.3 < facts.week_log_sd < 1.5
    assert 0 <= facts.oversize_share < 0.2
    assert all(s.startswith(("read:", "memory:", "judgement:")) for s in facts.sources.values())


def test_every_source_is_used_and_named_once() -> None:
    keys = [row["key"] for row in _rows("sources.csv")]
    assert len(keys) == len(set(keys))
    used = {row[name] for row in _rows("crops.csv") for name in row if name.endswith("_source")}
    assert used == set(keys)
    assert {row["mark"] for row in _rows("sources.csv")} == {"read", "memory", "judgement"}


def test_an_unknown_crop_gets_the_generic_prior_under_its_own_name() -> None:
    facts = crop_facts("sea kale")
    assert (facts.crop, facts.known) == ("sea kale", False)
    assert facts.first_pick_log_sd > max(crop_facts(c).first_pick_log_sd for c in ("tomato", "pea"))


def test_facts_can_be_pickled() -> None:
    facts = crop_facts("okra")
    assert pickle.loads(pickle.dumps(facts)) == facts


def test_household_overrides() -> None:
    household = Household.model_validate(
        {
            "crops": {
                "tomato": {
                    "base_c": 8.0,
                    "degree_days_to_first_pick": 750,
                    "fruit_kg": 0.08,
                    "yield_kg_per_plant": 3.0,
                    "weeks_of_picking": 5,
                    "tender": False,
                },
                "sea kale": {"perennial": True},
            }
        }
    )
    plain, own = crop_facts("tomato"), crop_facts("tomato", household)
    assert (own.base_c, own.upper_c) == (8.0, plain.upper_c)
    assert own.dd_to_first_pick == own.dd_to_first_pick_set_out == 750
    assert own.fruit_kg == 0.08
    assert own.fruit_sd_kg < plain.fruit_sd_kg
    assert np.sqrt(np.prod(own.yield_kg_per_plant)) == pytest.approx(3.0)
    assert own.yield_kg_per_m[0] < plain.yield_kg_per_m[0]
    assert own.picking_weeks == (5, 5)
    assert not own.tender
    assert "household" in own.sources["fruit"]
    assert crop_facts("cucumber", household) == crop_facts("cucumber")
    wild = crop_facts("sea kale", household)
    assert wild.perennial
    assert wild.heat_from_new_year


def test_a_changed_base_counts_the_same_days() -> None:
    household = Household.model_validate({"crops": {"sweet corn": {"base_c": 8.0}}})
    plain, own = crop_facts("sweet corn"), crop_facts("sweet corn", household)
    warm = REFERENCE_CLIMATE["warm"]
    days = [f.dd_to_first_pick / daily_heat(f, *warm).item() for f in (plain, own)]
    assert days[0] == pytest.approx(days[1])


def test_a_base_above_the_ceiling_is_refused_in_household_words() -> None:
    household = Household.model_validate({"crops": {"tomato": {"base_c": 31.0}}})
    with pytest.raises(InputError, match=r"garden\.toml, crops\.tomato .*upper threshold"):
        crop_facts("tomato", household)


def test_where_heat_starts_to_count() -> None:
    tomato, strawberry, garlic = (crop_facts(c) for c in ("tomato", "strawberry", "garlic"))
    assert heat_start(tomato, "2025-05-20", 2025) == pd.Timestamp("2025-05-20")
    assert heat_start(tomato, pd.NaT, 2025) == pd.Timestamp("2025-01-01")
    assert heat_start(strawberry, "2025-04-20", 2025) == pd.Timestamp("2025-01-01")
    assert heat_start(garlic, "2024-10-15", 2025) == pd.Timestamp("2025-01-01")
