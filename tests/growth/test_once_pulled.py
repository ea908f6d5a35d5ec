"""Crops brought in all at once: one large pick after weeks of none."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import Outlook, forecast
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.benchmarks.families import real_garden

PLANTS = {"onion": 200.0, "potato": 40.0, "cabbage": 16.0, "garlic": 60.0, "carrot": 150.0}
CASES = [
    (share, pd.Timestamp(pulled), wait)
    for share in (0.15, 0.5, 1.0, 2.0)
    for pulled in ("2025-07-13", "2025-08-03", "2025-08-12")
    for wait in (0, 1, 3)
]
"""Share of the almanac's yield that is pulled, on which day, and days from then to the forecast."""


def _usual(crop: str) -> float:
    return PLANTS[crop] * float(np.mean(crop_facts(crop).yield_kg_per_plant))


def _garden(share: float, pulled: pd.Timestamp, day: pd.Timestamp) -> Garden:
    """Invented: five crops pulled at once, and a cucumber picked as it ripens."""
    days = pd.date_range("2023-01-01", day)
    mean = 10 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    start = pd.Timestamp("2025-04-20")
    beds = [(crop, "Row", start, "set_out", plants) for crop, plants in PLANTS.items()]
    beds.append(("cucumber", "Creek", pd.Timestamp("2025-05-25"), "sown", 5.0))
    rows = [(pulled, crop, "Row", share * _usual(crop)) for crop in PLANTS]
    rows += [(d, "cucumber", "Creek", 1.2) for d in pd.date_range("2025-07-10", day, freq="3D")]
    return garden_from_frames(
        pd.DataFrame(rows, columns=["date", "crop", "variety", "mass_kg"]).sort_values("date"),
        pd.DataFrame(beds, columns=["crop", "variety", "date", "how", "plants"]),
        weather,
        household=Household(first_frost="10-10", last_frost="05-08"),
    )


@pytest.fixture(scope="module")
def made() -> list[Outlook]:
    out = []
    for share, pulled, wait in CASES:
        day = pulled + pd.Timedelta(days=wait)
        out.append(forecast(_garden(share, pulled, day), day, draws=300))
    return out


def test_every_mode_is_found(made: list[Outlook]) -> None:
    for case, outlook in zip(CASES, made, strict=True):
        checks = outlook.checks
        checks = checks[checks["code"] == "fit.converged"]
        assert len(checks) == 6
        assert checks["passed"].all(), (case, checks[~checks["passed"]])
        assert outlook._fit.posteriors[0].steps < 40, case


def test_the_fitted_season_stays_within_what_plants_can_bear(made: list[Outlook]) -> None:
    for case, outlook in zip(CASES, made, strict=True):
        most = outlook.fitted.groupby("crop")["ready_q90_kg"].max()
        for crop in PLANTS:
            # No day brings ten times what the plants are known to bear in all.
            assert most[crop] < 10 * max(case[0], 1.0) * _usual(crop), (case, crop)


def test_little_is_left_once_about_all_has_been_pulled(made: list[Outlook]) -> None:
    coming: dict[float, list[np.ndarray]] = {}
    for (share, _, _), outlook in zip(CASES, made, strict=True):
        usual = [_usual(crop) if crop in PLANTS else np.nan for crop, _ in outlook.keys]
        coming.setdefault(share, []).append(outlook.mass_kg.sum(axis=1).mean(axis=0) / usual)
    crops = np.array([crop in PLANTS for crop, _ in made[0].keys])
    by_share = {share: np.mean(means, axis=0)[crops] for share, means in coming.items()}
    # In three weeks, as shares of the almanac's yield: hardly any where twice as much was pulled.
    assert (by_share[2.0] < 0.25).all(), by_share[2.0]
    assert (by_share[1.0] < 0.5).all(), by_share[1.0]
    assert (by_share[0.15] > 0.2).all(), by_share[0.15]


def test_what_is_dug_little_by_little_goes_on_beyond_what_was_expected() -> None:
    """A row that gives three times the almanac's yield in small picks is not called empty."""
    day = pd.Timestamp("2025-08-30")
    garden = _garden(0.15, pd.Timestamp("2025-07-13"), day)
    days = pd.date_range("2025-07-14", day, freq="2D")
    each = 3.0 * _usual("carrot") / len(days)
    dug = pd.DataFrame({"date": days, "crop": "carrot", "variety": "Row", "mass_kg": each})
    dug["grade"] = "good"
    picks = pd.concat([garden.picks, dug]).sort_values("date")
    again = garden_from_frames(picks, garden.plantings, garden.weather, household=garden.household)
    made = forecast(again, day, weeks=1, draws=200)
    week = made.mass_kg[..., [k[0] for k in made.keys].index("carrot")].sum(axis=1)
    assert week.mean() > 0.4 * 3.5 * each
    assert (week > 0).mean() > 0.7


def test_a_later_sowing_is_still_there_when_the_first_has_been_pulled() -> None:
    """Carrots sown in April give twice the almanac's yield; those sown in June are to come."""
    pulled, day = pd.Timestamp("2025-07-20"), pd.Timestamp("2025-08-24")
    alone = _garden(2.0, pulled, day)
    second = {"crop": "carrot", "variety": "Row", "date": pd.Timestamp("2025-06-20")}
    more = pd.DataFrame([{**second, "how": "set_out", "plants": PLANTS["carrot"]}])
    both = garden_from_frames(
        alone.picks,
        pd.concat([alone.plantings, more], ignore_index=True),
        alone.weather,
        household=alone.household,
    )
    coming = []
    for garden in (alone, both):
        # One future in a hundred is a large one: their mean needs many draws.
        made = forecast(garden, day, draws=4096)
        carrot = [crop for crop, _ in made.keys].index("carrot")
        coming.append(made.mass_kg[..., carrot].sum(axis=1).mean() / _usual("carrot"))
    assert coming[0] < 0.1 < 0.3 < coming[1]


def test_what_stands_is_what_was_planted_less_what_was_taken(made: list[Outlook]) -> None:
    """Invented: five crops of which a share of the almanac's yield was pulled on one day."""
    ready: dict[float, list[pd.Series]] = {}
    for (share, _, _), outlook in zip(CASES, made, strict=True):
        table = outlook.standing.set_index("crop")
        assert set(table.index) <= set(PLANTS) and not {"cucumber"} & set(table.index)
        assert (table["q10_kg"] <= table["q50_kg"]).all()
        usual = pd.Series({crop: _usual(crop) for crop in table.index})
        ready.setdefault(share, []).append(table["q50_kg"] / usual)
    middle = {share: pd.concat(parts).groupby(level=0).mean() for share, parts in ready.items()}
    assert (middle[0.15] > middle[1.0]).all(), middle
    assert (middle[2.0] < 0.05).all(), middle[2.0]


def test_nothing_stands_ready_before_its_time() -> None:
    """Onions set out in April: hardly any in June, most in September."""
    pulled = pd.Timestamp("2025-12-01")
    june, september = (
        forecast(_garden(1.0, pulled, pd.Timestamp(day)), day, weeks=1, draws=100)
        .standing.set_index("crop")
        .loc["onion"]
        for day in ("2025-06-10", "2025-09-10")
    )
    assert pd.isna(june["ready_from"]) and june["q50_kg"] < 0.2 * _usual("onion")
    assert september["ready_from"] == pd.Timestamp("2025-09-11")
    assert 0.3 * _usual("onion") < september["q50_kg"] < 1.5 * _usual("onion")


def test_the_real_log_brings_in_what_is_said_to_stand() -> None:
    """What was brought in of roots, bulbs and squash later, by the ranges of September on."""
    garden = real_garden("home")
    held = []
    for day in pd.date_range("2020-09-09", "2020-10-07", freq="7D"):
        later = garden.picks[garden.picks["date"] > day].groupby("crop")["mass_kg"].sum()
        table = forecast(garden, day, weeks=1, draws=100, rehearsals=0).standing.set_index("crop")
        rest = later.reindex(table.index).dropna()
        held += [
            table.loc[crop, "q10_kg"] <= kg <= table.loc[crop, "q90_kg"]
            for crop, kg in rest.items()
        ]
    assert len(held) > 20 and np.mean(held) > 0.75
