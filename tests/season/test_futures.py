"""Possible seasons of hypothetical plantings: arithmetic, limits, truth of simulated gardens."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import Garden
from harvestcast.season.next.futures import SeasonFutures, season_futures
from harvestcast.season.next.options import PlantingOption, planting_options
from harvestcast.season.yields.curves import curves_of, learn
from tests.season.gardens import garden, picks, plantings, tomatoes
from tests.simulated import as_garden, next_year, simulate_garden


def _options(case: Garden) -> list[PlantingOption]:
    """Return every variety on its own date, three weeks later and six."""
    return [
        replace(option, date=option.date + pd.Timedelta(weeks=late))
        for option in planting_options(case, year=2027, sowings=1)
        for late in (0, 3, 6)
    ]


def _draw(draws: int = 200, seed: int = 1, **changes: object) -> SeasonFutures:
    case = replace(tomatoes(), **changes)
    options = _options(case)
    return season_futures(case, learn(case, 2027), options, year=2027, draws=draws, seed=seed)


def test_the_harvest_of_one_more_year_is_that_of_the_log() -> None:
    """12 plants gave 4.75 kg each: so will the next, with the luck of plots and seasons."""
    case = tomatoes()
    options = planting_options(case, year=2027, sowings=1)
    drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=1500, seed=1)
    totals = drawn.per_plant.sum(axis=1)
    kinds = [option.variety for option in options]
    many, single = totals[:, kinds.index("Many")], totals[:, kinds.index("Single")]
    assert many.mean() == pytest.approx(4.75, rel=0.15)
    # One plant says less of its variety than twelve.
    assert np.log(single).std() > np.log(many).std()


def test_same_seed_same_seasons_and_others_differ() -> None:
    one, same, other = _draw(seed=4), _draw(seed=4), _draw(seed=5)
    assert (one.per_plant == same.per_plant).all()
    assert one.per_plant.sum() != other.per_plant.sum()


def test_later_dates_bear_later_and_frost_ends_them() -> None:
    drawn = _draw(400)
    options = _options(tomatoes())
    mine = [i for i, option in enumerate(options) if option.variety == "Many"]
    firsts = [np.nanmedian(drawn.first_pick[:, i]) for i in mine]
    totals = np.array([drawn.per_plant[:, :, i].sum(axis=1) for i in mine])
    assert firsts == sorted(firsts)
    # In the same futures a later date brings no more, within what 400 of them leave to chance.
    more = np.diff(totals, axis=0)
    assert (more.mean(axis=1) < 2 * more.std(axis=1) / np.sqrt(400)).all()
    assert totals[-1].mean() < 0.95 * totals[0].mean()
    # The invented weather first freezes (-0.5 degC or less) in the second half of October.
    last = drawn.weeks[drawn.per_plant.any(axis=(0, 2))][-1]
    assert last < pd.Timestamp("2027-11-15")


def test_nothing_is_picked_before_it_can_bear() -> None:
    drawn = _draw(300)
    options = _options(tomatoes())
    for place, option in enumerate(options):
        day = (option.date - pd.Timestamp("2027-01-01")).days
        known = drawn.first_pick[:, place]
        assert np.nanquantile(known, 0.02) > day + 25


def test_the_year_to_come_is_not_read() -> None:
    """Rows of the planned year in the files change nothing."""
    case = tomatoes()
    later = picks([("2027-08-01", "tomato", "Many", 500.0)])
    more = replace(case, picks=pd.concat([case.picks, later], ignore_index=True))
    options = planting_options(case, year=2027)
    one = season_futures(case, learn(case, 2027), options, year=2027, draws=50, seed=1)
    other = season_futures(more, learn(more, 2027), options, year=2027, draws=50, seed=1)
    assert (one.per_plant == other.per_plant).all()


def test_crops_of_a_draw_share_its_luck() -> None:
    """Varieties of one crop rise and fall together more than their own luck alone would do."""
    drawn = _draw(1500)
    options = _options(tomatoes())
    totals = np.log(drawn.per_plant.sum(axis=1) + 1e-9)
    kinds = {o.variety: i for i, o in reversed(list(enumerate(options)))}
    shared = np.corrcoef(totals[:, kinds["Many"]], totals[:, kinds["Some"]])[0, 1]
    dates = [i for i, o in enumerate(options) if o.variety == "Many"]
    own = np.corrcoef(totals[:, dates[0]], totals[:, dates[1]])[0, 1]
    assert 0.05 < shared < 0.8
    assert own > shared  # two dates of one variety share its worth as well


def test_a_crop_without_a_log_is_wide_and_says_so() -> None:
    case = tomatoes()
    options = planting_options(case, year=2027, crops=["cucumber"], sowings=1)
    cucumber = next(i for i, o in enumerate(options) if o.crop == "cucumber")
    many = next(i for i, o in enumerate(options) if o.variety == "Many")
    assert options[cucumber].basis == "basis.almanac"
    drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=800, seed=2)
    spread = np.log(np.maximum(drawn.per_plant.sum(axis=1), 1e-6)).std(axis=0)
    assert spread[cucumber] > 1.5 * spread[many]


def test_a_new_variety_borrows_from_its_crop() -> None:
    case = tomatoes()
    keys = [("tomato", "Many", True), ("tomato", "Never grown", True)]
    rng = np.random.default_rng(1)
    found = curves_of(case, learn(case, 2027), keys, {}, draws=1500, rng=rng)
    known, new = (found["tomato", name] for name in ("Many", "Never grown"))
    assert new.basis == "basis.crop_log"
    assert abs(new.theta[:, 1].mean() - known.theta[:, 1].mean()) < 0.15
    assert new.theta[:, 0].std() > known.theta[:, 0].std()


def test_perennials_stand_where_they_are() -> None:
    planted = plantings([("asparagus", "Old bed", "n", "2019-04-20", "set_out", 20),
                         ("tomato", "A", "n", "2026-05-15", "set_out", 4)])  # fmt: skip
    rows = [("2026-05-05", "asparagus", "Old bed", 2.0),
            ("2026-05-15", "asparagus", "Old bed", 2.0),
            ("2026-09-25", "tomato", "A", 8.0)]  # fmt: skip
    options = planting_options(garden(planted, picks(rows)), year=2027)
    old = next(option for option in options if option.crop == "asparagus")
    assert old.standing and old.low == old.high == 20.0


@pytest.mark.statistics
def test_next_year_of_simulated_gardens_falls_where_the_draws_say() -> None:
    """Twelve simulated gardens grown once more: season totals per variety within the draws.

    Probability integral transform over 144 varieties; binomial limits at four standard errors.
    """
    places, first = [], []
    for seed in range(40, 52):
        sim = simulate_garden(seed, truth=False)
        case = as_garden(sim)
        options = planting_options(case, year=2027, sowings=1)
        drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=500, seed=1)
        layout = pd.DataFrame(
            [(o.crop, o.variety, o.date, o.how, max(o.this_year, 1.0)) for o in options],
            columns=["crop", "variety", "date", "how", "plants"],
        )
        after = next_year(sim, layout, seed=900 + seed).truth.days[0]
        kinds = sim.varieties.iloc[after.variety]
        names = list(zip(kinds["crop"], kinds["variety"], strict=True))
        for row, name in enumerate(names):
            mine = [i for i, o in enumerate(options) if (o.crop, o.variety) == name]
            number = np.array([max(options[i].this_year, 1.0) for i in mine])
            total = drawn.per_plant.sum(axis=1)[:, mine] @ number
            places.append(float((total < after.picked_kg[row].sum()).mean()))
            picked = np.flatnonzero(after.picked_kg[row])
            if len(picked):
                # A draw in which frost comes before any pick is no earlier one.
                began = np.nan_to_num(drawn.first_pick[:, mine], nan=np.inf).min(axis=1)
                first.append(float((began < picked[0]).mean()))
    inside = np.mean([0.05 < place < 0.95 for place in places])
    assert len(places) >= 140
    assert inside >= 0.9 - 4 * np.sqrt(0.09 / len(places))
    assert 0.35 < np.mean(places) < 0.65
    assert np.mean([0.02 < place < 0.98 for place in first]) > 0.8


def test_a_day_known_after_the_last_drawn_one_takes_the_season_as_observed() -> None:
    """Plantings of an earlier season may all be over before the last day known."""
    case = tomatoes()
    options = _options(case)
    known = pd.Timestamp("2029-07-01")
    days = pd.date_range("2027-01-01", known)
    record = pd.DataFrame({"date": days, "tmin_c": 12.0, "tmax_c": 24.0, "rain_mm": 0.0,
                           "kind": "observed", "issued": pd.NaT})  # fmt: skip
    case = replace(case, weather=pd.concat([case.weather, record], ignore_index=True))
    drawn = season_futures(
        case, learn(case, 2027), options, year=2027, draws=20, seed=1, known=known
    )
    assert np.isfinite(drawn.per_plant).all()
