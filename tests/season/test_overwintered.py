"""Next season's calendar against gardens whose truth is known, on both sides of the equator."""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import Garden
from harvestcast.season.next.futures import season_futures
from harvestcast.season.next.options import planting_options
from harvestcast.season.next.tables import sowing_calendar
from harvestcast.season.yields.curves import learn, seasons_told
from harvestcast.season.yields.plantings import seasons_with_picks, units_of
from tests.season.overwintered import Plant, Truth, northern_garden, southern_garden

Made = tuple[Garden, Truth, tuple[Plant, ...]]
WEEK = pd.Timedelta(days=7)


@pytest.fixture(scope="module", params=[(southern_garden, 2025), (northern_garden, 2026)],
                ids=["south", "north"])  # fmt: skip
def made(request: pytest.FixtureRequest) -> tuple[Made, int]:
    make: Callable[[], Made]
    make, season = request.param
    return make(), season


@pytest.fixture(scope="module")
def calendar(made: tuple[Made, int]) -> pd.DataFrame:
    (garden, _, _), season = made
    options = planting_options(garden, year=season, sowings=1)
    drawn = season_futures(garden, learn(garden, season), options, year=season, draws=60, seed=1)
    return sowing_calendar(options, np.array([option.this_year for option in options]), drawn)


def test_the_dates_of_the_calendar_lie_within_a_week_of_the_truth(
    made: tuple[Made, int], calendar: pd.DataFrame
) -> None:
    (garden, truth, plants), season = made
    start = garden.seasons.span(season).start
    for plant in plants:
        mine = calendar[calendar["crop"] == plant.crop].set_index("task")["date"]
        planted = start if len(plant.day) > 5 else mine.get("sow", mine.get("set out"))
        first, last = truth.dates(plant, planted)
        assert abs(mine["first pick"] - first) <= WEEK, plant.crop
        if "last pick" in mine:
            assert abs(mine["last pick"] - last) <= WEEK, plant.crop
        assert mine["first pick"] > planted


def test_the_first_pick_comes_before_a_tenth_of_the_harvest(made: tuple[Made, int]) -> None:
    """In every draw of what whole seasons say, not only on average."""
    (garden, _, plants), season = made
    learned = learn(garden, season)
    rng = np.random.default_rng(2)
    for crop in sorted({plant.crop for plant in plants if not plant.once}):
        for one in seasons_told(garden, learned, crop, 200, rng).values():
            assert one.first is not None and one.early is not None
            assert (one.first <= 1.02 * one.early).mean() > 0.95, crop


def test_plantings_are_those_of_the_season_and_in_its_order(
    made: tuple[Made, int], calendar: pd.DataFrame
) -> None:
    """A season of its own: what is set in autumn before it, then the days of the log again."""
    (garden, _, plants), season = made
    span = garden.seasons.span(season)
    set_out = calendar[calendar["task"].isin(["sow", "set out"])].set_index("crop")["date"]
    for plant in plants:
        if len(plant.day) > 5:
            assert plant.crop not in set_out
            continue
        assert set_out[plant.crop].strftime("%m-%d") == plant.day
        early = plant.crop in ("garlic", "fava bean")
        assert (set_out[plant.crop] < span.start) == early, plant.crop
        assert set_out[plant.crop] <= span.end


def test_every_pick_is_of_one_sowing_and_none_is_lost(made: tuple[Made, int]) -> None:
    (garden, _, plants), _ = made
    units = [unit for one in seasons_with_picks(garden) for unit in units_of(garden, one)]
    total = sum(float(unit.mass.sum()) for unit in units)
    assert total == pytest.approx(garden.picks["mass_kg"].sum())
    own = {plant.crop: plant for plant in plants}
    for unit in units:
        first = unit.dates[int(np.argmax(unit.mass > 0))]
        assert unit.plantings == 1
        assert unit.plants == own[unit.crop].plants
        assert garden.seasons.of(first) == unit.year
        if len(own[unit.crop].day) == 5:
            # Sown last before its first pick, the next sowing of the variety is not yet due.
            assert unit.planted < first < unit.planted + pd.Timedelta(days=300)
