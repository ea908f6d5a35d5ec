"""The plan of next season's beds: from the garden to tables."""

import pickle
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.errors import ElevationError, InputError
from harvestcast.frames import PANTRY, PICKS, PLANTINGS, check_frame
from harvestcast.frames import season_tables as specs
from harvestcast.records.garden import Garden, open_garden
from harvestcast.records.household import WEEKDAYS, Household
from harvestcast.season.kitchen_year import (
    jars_to_put_up,
    kitchen_year,
    shelf_line,
    usable_share,
)
from harvestcast.season.next import plan as module
from harvestcast.season.next.goals import appetite_of_log, weeks_borne
from harvestcast.season.next.options import planting_options
from harvestcast.season.next.plan import PlantingPlan, plan_next_season
from harvestcast.season.yields.curves import learn
from tests.season.gardens import bell, garden, picks, plantings, tomatoes

KITCHEN = {
    "targets": {"frozen tomatoes": 12},
    "equipment": [{"kind": "freezer", "free_l": 120}],
    "hours": {"saturday": 5, "wednesday": 2},
    "bed_area_m2": 60.0,
}


@pytest.fixture(autouse=True)
def _few_futures(monkeypatch: pytest.MonkeyPatch) -> None:
    # Enough to see that the parts fit together; how good the counts are is measured elsewhere.
    monkeypatch.setattr(module, "TRIALS", 100)
    monkeypatch.setattr(module, "FRESH_FUTURES", 150)


@pytest.fixture(scope="module")
def plan() -> PlantingPlan:
    patch = pytest.MonkeyPatch()
    patch.setattr(module, "TRIALS", 100)
    patch.setattr(module, "FRESH_FUTURES", 150)
    with patch.context():
        return plan_next_season(tomatoes(**KITCHEN), year=2027, futures=20)


def test_every_table_keeps_its_specification(plan: PlantingPlan) -> None:
    for table, spec in (
        (plan.beds, specs.BEDS),
        (plan.reliability, specs.RELIABILITY),
        (plan.glut, specs.GLUT),
        (plan.compared, specs.COMPARED),
        (plan.trade_off, specs.TRADE_OFF),
        (plan.calendar, specs.SOWING_CALENDAR),
    ):
        assert len(table)
        pd.testing.assert_frame_equal(check_frame(table, spec), table)


def test_targets_are_met_about_as_often_as_asked(plan: PlantingPlan) -> None:
    table = plan.reliability.set_index("product")
    assert set(table.index) == {"frozen_tomatoes", "fresh: tomato"}
    assert (table["probability_met"] >= 0.8).all()
    assert table.loc["frozen_tomatoes", "target"] == 12
    # Jars stop at the target, so that a few lean futures may pull the mean below the lowest tenth.
    assert table.loc["frozen_tomatoes", ["q10", "mean"]].max() <= 12 + 1e-9
    assert table.loc["fresh: tomato", "q10"] <= table.loc["fresh: tomato", "mean"]


def test_beds_hold_their_limits(plan: PlantingPlan) -> None:
    beds = plan.beds
    assert beds["area_m2"].sum() <= 60.0 + 1e-6
    assert (beds["plants"] > 0).all()
    assert (beds["date"].dt.year == 2027).all()
    assert (beds["first_pick"] > beds["date"]).all()
    assert (beds["last_pick"] > beds["first_pick"]).all()


def test_the_plan_stands_beside_this_years_beds_and_the_rule(plan: PlantingPlan) -> None:
    layouts = list(plan.compared["layout"])
    assert layouts[0] == "plan"
    assert "this_year" in layouts and "rule_of_thumb" in layouts
    assert sum(name.endswith((".as_sure", ".nearly")) for name in layouts) == 2
    assert plan.compared["plants"].iloc[1] == 16  # 12, 3 and 1 tomato plants


def test_a_higher_probability_is_priced(plan: PlantingPlan) -> None:
    table = plan.trade_off
    assert table["probability"].tolist() == [0.9, 0.95]
    assert table["area_m2"].iloc[1] >= table["area_m2"].iloc[0] - 1e-9


def test_the_calendar_has_every_planting(plan: PlantingPlan) -> None:
    tasks = plan.calendar[plan.calendar["task"].isin(["sow", "set out"])]
    assert len(tasks) == len(plan.beds)
    assert plan.calendar["date"].is_monotonic_increasing
    assert (plan.calendar["early"] <= plan.calendar["late"]).all()


def test_the_solver_says_how_it_went(plan: PlantingPlan) -> None:
    assert plan.solve["status"] == "optimal"
    assert 0 <= plan.solve["gap"] < 1
    assert plan.solve["seconds"] > 0


def test_a_plan_is_frozen_copied_and_pickled(plan: PlantingPlan) -> None:
    mine = plan.beds
    mine.loc[0, "plants"] = 999
    assert plan.beds.loc[0, "plants"] != 999
    other = pickle.loads(pickle.dumps(plan))
    pd.testing.assert_frame_equal(other.beds, plan.beds)
    assert dict(other.solve) == dict(plan.solve)
    with pytest.raises(AttributeError):
        plan.year = 1999  # type: ignore[misc]
    with pytest.raises(TypeError):
        plan.solve["gap"] = 0.0  # type: ignore[index]


def test_limits_of_the_household_hold() -> None:
    plan = plan_next_season(
        tomatoes(**KITCHEN), year=2027, futures=15, limits={"tomato: Many": 2.0, "tomato": 9.0}
    )
    plants = plan.beds.groupby("variety")["plants"].sum()
    assert plants.get("Many", 0) <= 2
    assert (plants <= 9).all()


def test_too_small_beds_are_said() -> None:
    plan = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=15, bed_area_m2=3.0)
    assert plan.beds["area_m2"].sum() <= 3.0 + 1e-6
    assert not plan.solve["reached"]
    assert "plan.not_reached" in [line.code for line in plan.lines]
    assert plan.reliability["comment"].notna().any()


def _no_log(**settings: object) -> Garden:
    empty = tomatoes(**settings)
    return replace(empty, picks=PICKS.empty(), plantings=PLANTINGS.empty())


def test_a_first_season_is_planned_from_the_almanac_and_says_how_wide_that_is() -> None:
    plan = plan_next_season(_no_log(**{**KITCHEN, "bed_area_m2": 400.0}), year=2027, futures=20)
    assert set(plan.beds["crop"]) == {"tomato"}
    assert (plan.beds["variety"] == "unnamed").all()
    assert (plan.beds["date"] >= "2027-05-01").all()  # a tender crop, after the last frost
    ranges = [line.facts["ranges"] for line in plan.lines if line.code == "plan.nothing_logged"]
    assert "tomato" in [crop for crop, _, _ in ranges[0]]
    assert "this_year" not in set(plan.compared["layout"])
    assert plan.reliability["this_year_probability"].isna().all()
    logged = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=20)
    # Not knowing costs bed space.
    assert plan.beds["area_m2"].sum() > logged.beds["area_m2"].sum()


def test_a_first_season_is_planned_for_the_crops_that_are_named() -> None:
    """No field of plants for a hundredth of probability, nothing set out that is sown in place."""
    named = {"carrot": {}, "tomato": {}, "snap bean": {}}
    plan = plan_next_season(_no_log(crops=named, people=2), year=2027, futures=10)
    assert set(plan.beds["crop"]) == set(named)
    how = plan.beds.groupby("crop")["how"].agg(lambda one: "".join(sorted(set(one))))
    assert how.to_dict() == {"carrot": "sown", "snap bean": "sown", "tomato": "set_out"}
    assert plan.beds["area_m2"].sum() < 80.0
    assert not plan.solve["reached"]
    assert "plan.not_reached" in [line.code for line in plan.lines]


def test_an_empty_garden_has_nothing_to_plan() -> None:
    with pytest.raises(InputError, match="nothing to plan for"):
        plan_next_season(_no_log(), year=2027)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [({"probability": 0.2}, "0.5 to 0.99"), ({"futures": 3}, "at least 10"),
     ({"sowings": 0}, "at least 1")],
)  # fmt: skip
def test_arguments_out_of_range(arguments: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        plan_next_season(tomatoes(**KITCHEN), year=2027, **arguments)  # type: ignore[arg-type]


def test_no_elevation_no_canned_targets() -> None:
    case = tomatoes(
        targets={"tomato sauce": 5}, equipment=[{"kind": "boiling_water_canner"}], elevation_m=None
    )
    with pytest.raises(ElevationError, match="no elevation"):
        plan_next_season(case, year=2027, futures=15)


def test_jars_of_next_season_are_a_years_target_less_what_is_left(sample_folder: Path) -> None:
    home = open_garden(sample_folder)
    jars = jars_to_put_up(home, 2028).set_index("product")
    target = {"frozen_peas": 12.0}
    for key, wanted in target.items():
        # Two years on, nothing of today's shelf is left: the whole target.
        assert jars.loc[key, "need"] == pytest.approx(wanted)


def test_of_the_shelf_only_what_is_left_and_still_good_counts() -> None:
    book = pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-08-10", "2026-08-01", "2026-08-20"]),
            "product": ["dill pickles", "frozen tomatoes", "dill pickles"],
            "change": [18.0, 12.0, -1.0],
            "produce_kg": np.nan, "hours": np.nan, "jar": ["pint", None, "pint"],
            "what": None, "note": None, "file": "pantry.csv", "line": np.nan,
        }
    )  # fmt: skip
    home = replace(
        tomatoes(targets={"frozen tomatoes": 20, "dill pickles": 20}, units="metric"),
        pantry=check_frame(book, PANTRY),
    )
    jars = jars_to_put_up(home, 2027).set_index("product")
    # Eaten slowly, but a year after the pickles were put up they are past their best.
    assert jars.loc["dill_pickles", ["stock", "left", "need"]].tolist() == [17.0, 0.0, 20.0]
    assert jars.loc["dill_pickles", "paced"] and not jars.loc["frozen_tomatoes", "paced"]
    line = shelf_line(jars.reset_index())
    assert line is not None and line.code == "shelf.counts"
    assert line.facts["day"] == pd.Timestamp("2027-10-10")
    assert ("dill pickles", 0.0, 17.0) in line.facts["counts"]
    assert line.facts["unknown"] == ["frozen tomatoes"]
    assert shelf_line(jars_to_put_up(tomatoes(targets={"dill pickles": 5}), 2027)) is None


def test_the_kitchens_year_has_the_households_own_figures(sample_folder: Path) -> None:
    home = open_garden(sample_folder)
    weeks = pd.date_range("2027-06-07", periods=20, freq="7D")
    jars = jars_to_put_up(home, 2027)
    kitchen = kitchen_year(home, ("cucumber", "snap bean"), weeks, jars)
    hours = sum(dict(home.household.hours).values())
    assert kitchen.hours == pytest.approx(np.full(20, hours))
    assert set(kitchen.products) <= set(jars["product"])
    pickles = kitchen.products.index("dill_pickles")
    way = int(np.flatnonzero(kitchen.method_product == pickles)[0])
    assert kitchen.fresh_only[way]  # cucumbers for pickles within a day or so of the pick
    assert 0.5 < kitchen.jars_per_kg[way] < 4


def test_fruit_that_waits_for_saturday_is_only_partly_in_time() -> None:
    week = dict.fromkeys(WEEKDAYS, 1.0)
    home = tomatoes().household
    assert usable_share(home.model_copy(update={"hours": week}), 0.0) == 1.0
    saturday = home.model_copy(update={"hours": {"saturday": 6.0}})
    # Within a day of the pick: picks of Friday and Saturday, two days of seven.
    assert usable_share(saturday, 1.0) == pytest.approx(2 / 7)
    assert usable_share(saturday, 6.0) == 1.0


def test_weeks_in_which_a_crop_can_be_had() -> None:
    picks_of_one = np.zeros((4, 5, 2))
    picks_of_one[:, 1, 0] = 1.0  # always in week 1
    picks_of_one[:2, 3, 1] = 1.0  # in half of the futures in week 3
    picks_of_one[:1, 4, 1] = 1.0  # in a quarter in week 4
    picks_of_one[:, 2, 0] = 0.1  # always a little in week 2, two fifths of what fills a week
    weeks, number = weeks_borne(picks_of_one, np.array([0, 0]), 1, 0.9)
    assert weeks[:, 0].tolist() == [False, True, True, True, False]
    # 1.4 weeks in nine futures of ten, nine tenths of which are to be three quarters; 1.9 in mean.
    assert number == pytest.approx([1.4 * 0.9 / 0.75])
    assert weeks_borne(picks_of_one, np.array([0, 0]), 1, 0.5)[1] == pytest.approx([1.9])


def test_an_appetite_that_nobody_set_is_that_of_the_log() -> None:
    """Ten weeks of 300 g of okra; the planning figure would be four times as much."""
    planted = plantings([("okra", "A", "n", "2026-05-20", "sown", 6)])
    days = pd.date_range("2026-07-20", periods=10, freq="7D")
    home = garden(planted, picks([(day, "okra", "A", 0.3) for day in days]))
    units = learn(home, 2027).units
    eat, keep = np.array([1.2]), np.array([1])
    taken = appetite_of_log(home.household, units, ["okra"], eat, keep)
    assert taken == pytest.approx([0.3])
    said = Household.model_validate({"crops": {"okra": {"eat_kg_per_person_week": 0.4}}})
    assert appetite_of_log(said, units, ["okra"], eat, keep) == pytest.approx([1.2])
    assert appetite_of_log(home.household, {}, ["okra"], eat, keep) == pytest.approx([1.2])
    # The planning figure is the most that is taken, however much was picked.
    assert appetite_of_log(home.household, units, ["okra"], np.array([0.2]), keep) == [0.2]


def test_a_limit_is_read_or_refused() -> None:
    case = tomatoes()
    for key in ("tomato/Single", "tomato: single", "tomatoes / Single"):
        options = planting_options(case, year=2027, limits={key: 3})
        most = {option.variety: option.high for option in options}
        assert most == {"Many": np.inf, "Single": 3.0, "Some": np.inf}
    assert {o.high for o in planting_options(case, year=2027, limits={"tomato": 5})} == {5.0}
    with pytest.raises(InputError) as caught:
        planting_options(case, year=2027, limits={"tomato/Copperkin": 3, "kale": 2, "tomato": -1})
    assert [problem.column for problem in caught.value.problems] == [
        "tomato/Copperkin", "kale", "tomato"]  # fmt: skip


def test_dates_of_succession_are_this_years_and_more_after_them() -> None:
    planted = plantings([("snap bean", "A", "n", "2026-05-12", "sown", 60),
                         ("snap bean", "A", "n", "2026-06-20", "sown", 40)])  # fmt: skip
    rows = [(day, "snap bean", "A", kg) for day, kg in bell("2026-07-10", 30, 10.0)]
    rows += [("2026-09-28", "snap bean", "A", 0.1)]
    options = planting_options(garden(planted, picks(rows)), year=2027, sowings=3)
    dates = [str(option.date.date()) for option in options]
    assert dates[0] == "2027-05-12" and dates[-1] == "2027-06-20" and len(dates) == 3
    assert [option.this_year for option in options] == [60.0, 0.0, 40.0]
    assert all(option.step > 1 for option in options)  # nobody counts single bean seeds


def test_the_same_seed_gives_the_same_beds() -> None:
    one = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=15, seed=7)
    other = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=15, seed=7)
    pd.testing.assert_frame_equal(one.beds, other.beds)
    pd.testing.assert_frame_equal(one.reliability, other.reliability)
