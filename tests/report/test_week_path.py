"""The week from the folder to the page: views of real results, and the whole command once."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.frames import BATCHES, check_frame
from harvestcast.growth.log import picked as past
from harvestcast.growth.log.series import NO_WEATHER, gather
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.records.garden import garden_from_frames
from harvestcast.records.household import Household
from harvestcast.report.week import mind as week_mind
from harvestcast.report.week import page as week_page
from harvestcast.report.week import surplus as week_surplus
from harvestcast.report.week import today as week_today
from harvestcast.report.week import views
from harvestcast.report.week import words as week_words
from harvestcast.report.week.results import planned_week
from harvestcast.report.week.summary import summary


@pytest.fixture(scope="module")
def sample(sample_folder: Path) -> SimpleNamespace:
    garden = hc.open_garden(sample_folder)
    outlook = hc.forecast(garden, weeks=2, draws=60, seed=1)
    return SimpleNamespace(
        garden=garden,
        outlook=outlook,
        picked=past.picked_days(gather(garden, outlook.as_of)),
    )


def test_the_last_seven_days_are_those_of_the_log(sample: SimpleNamespace) -> None:
    """Where every pick of a crop was weighed, the sum is the log's own."""
    table = views.coming(sample.outlook, sample.picked)
    as_of = sample.outlook.as_of
    picks = sample.garden.picks
    recent = picks[picks["date"].between(as_of - pd.Timedelta(days=6), as_of)]
    weighed = recent.groupby("crop")["mass_kg"].apply(lambda kg: kg.notna().all())
    some = [crop for crop in weighed.index[weighed] if crop in set(table["crop"])]
    assert len(some) >= 3
    for crop in some:
        own = recent.loc[recent["crop"] == crop, "mass_kg"].sum()
        said = table.loc[table["crop"] == crop, "last_7_days_kg"].iloc[0]
        assert said == pytest.approx(own)


def test_past_weeks_do_not_overlap_and_end_on_the_day(sample: SimpleNamespace) -> None:
    as_of = sample.outlook.as_of
    for crop in ("cucumber", "zucchini"):
        weeks = past.picked_weeks(sample.picked, crop, as_of)
        assert weeks["start"].iloc[-1] == as_of - pd.Timedelta(days=6)
        assert (weeks["start"].diff().dropna() == pd.Timedelta(days=7)).all()
        own = sample.picked[sample.picked["crop"] == crop]
        inside = own[own["date"] >= weeks["start"].iloc[0]]
        assert weeks["mass_kg"].sum() == pytest.approx(inside["mass_kg"].sum())


def test_a_pick_is_spread_over_the_days_since_the_last(sample: SimpleNamespace) -> None:
    key = sample.picked[sample.picked["crop"] == "cucumber"].iloc[0]
    rates = past.pick_rates(sample.picked, "cucumber", str(key["variety"]))
    own = sample.picked[
        (sample.picked["crop"] == "cucumber") & (sample.picked["variety"] == key["variety"])
    ]
    days = (rates["date"] - rates["since"]).dt.days
    assert (days >= 1).all()
    assert (rates["since"].iloc[1:].to_numpy() >= rates["date"].iloc[:-1].to_numpy()).all()
    assert (rates["kg_per_day"] * days).sum() == pytest.approx(own["mass_kg"].sum())


def test_a_week_with_an_unweighed_pick_is_unknown() -> None:
    as_of = pd.Timestamp("2026-07-14")
    picked = pd.DataFrame(
        {
            "crop": "kale",
            "variety": "x",
            "date": [as_of, as_of - pd.Timedelta(days=1), as_of - pd.Timedelta(days=8)],
            "mass_kg": [1.0, np.nan, 2.0],
            "count": np.nan,
        }
    )
    weeks = past.picked_weeks(picked, "kale", as_of)
    assert weeks["mass_kg"].isna().tolist() == [False, True]
    assert past.picked_weeks(picked, "leek", as_of).empty


@pytest.mark.parametrize(
    ("planted", "days", "silent"), [(None, 7, 0), (None, 30, 30), (25, 30, 0), (10, 300, 300)]
)
def test_a_day_long_after_the_log_is_not_called_known(
    made_up: SimpleNamespace, planted: int | None, days: int, silent: int
) -> None:
    """Of a day asked for after the last row of all; something planted since explains 90 days."""
    week = made_up.week("us")
    last = made_up.as_of + pd.Timedelta(days=-400 if planted is None else planted)
    rows = [{"table": "plantings", "rows": 3, "first": last, "last": last}]
    spans = pd.concat([week.spans, pd.DataFrame(rows)], ignore_index=True)
    late = replace(week, as_of=made_up.as_of + pd.Timedelta(days=days), spans=spans)
    first, *more = week_words.terminal(late).splitlines()
    head = week_today.head(late).html
    ends = [line for line in more if line.startswith("The log ends on")]
    for words in (first, head):
        assert (f"the log ends {silent} days earlier" in words) == bool(silent)
        assert ("known up to" in words) == (not silent)
    assert bool(ends) == bool(silent) == ("The log ends on" in head)
    # The weather record of the made-up week ends with its log.
    ended = any(line.startswith("The weather record ends on") for line in more)
    assert ended == (days > 7)


def test_shares_balance(made_up: SimpleNamespace) -> None:
    table = views.shares(made_up.balance)
    out = table[["eaten", "put_up", "given", "spoiled", "carried_out"]].sum(axis=1)
    np.testing.assert_allclose(out, table["lying_kg"] + table["picked_kg"], atol=1e-9)
    assert table["crop"].iloc[0] == "cucumber"


def test_later_work_is_added_up_by_product(made_up: SimpleNamespace) -> None:
    one = made_up.batches
    more = one[~one["decided"]].assign(day=lambda t: t["day"] + pd.Timedelta(days=1))
    table = views.later(check_frame(pd.concat([one, more]), BATCHES))
    relish = table[table["product"] == "cucumber_relish"].iloc[0]
    assert relish["batches"] == 2
    assert relish["hands_on_h"] == pytest.approx(5.0)
    assert relish["last_day"] - relish["day"] == pd.Timedelta(days=1)
    assert not table["decided"].any()
    assert views.later(one[one["decided"]]).empty


def test_too_much_is_what_is_likely_or_large(made_up: SimpleNamespace) -> None:
    """Likely from a half; large from 1 kg at the upper end of the 80 % range; nothing else."""
    rows = made_up.surplus.loc[made_up.surplus["week"] == 1].reset_index(drop=True).head(4)
    rows["p_beats_capacity"] = [0.5, 0.2, 0.2, 0.6]
    rows["q90_kg"] = [0.4, 1.0, 0.99, 0.0]
    assert views.too_much(rows).tolist() == [True, True, False, False]
    assert set(views.left_over(rows)["crop"]) == set(rows["crop"].iloc[:2])
    assert set(views.may_be_left(rows)["crop"]) == set(rows["crop"].iloc[2:])
    week = made_up.week("metric")
    rows = rows.assign(q50_kg=0.0, mean_kg=0.1)
    said = [week_surplus.surplus_words(row, week) for _, row in rows.iterrows()]
    assert said[0] == "up to 400 g, on average 100 g, chance of any 50%"
    assert said[3] == "likely none, chance of any 60%"


def test_what_is_too_much_is_said_in_a_line_with_amounts_only_where_it_is_sure(
    made_up: SimpleNamespace,
) -> None:
    """A mean over futures of which most leave nothing over says nothing of any of them."""
    plain = made_up.week("metric")
    facts = {"crop": "cucumber", "units": "metric", "kg": 3.0, "usual": 1.0}
    rows = [
        ("cucumber", 0, 3.0, "left.no_hours", facts, "for 3 kg of it there are no hours"),
        ("cucumber", 1, 3.0, "use.give", facts, "give away 3 kg more than the usual 1 kg a week"),
        ("cucumber", 2, 0.0, "use.other", facts, "as the kitchen says it"),
    ]
    uses = pd.DataFrame(rows, columns=["crop", "order", "mass_kg", "code", "facts", "words"])
    row = plain.surplus.iloc[[0]].assign(
        crop="cucumber",
        week=1,
        mean_kg=3.0,
        q10_kg=2.0,
        q50_kg=2.9,
        q90_kg=6.0,
        p_beats_capacity=0.99,
    )
    sure = replace(plain, uses=uses, surplus=row)
    (said,) = week_surplus.surplus_lines(sure)
    assert (
        said == "cucumber on average 3 kg (up to 6 kg): give away 3 kg more; as the kitchen says it"
    )
    (may,) = week_surplus.surplus_lines(
        replace(sure, surplus=row.assign(q50_kg=0.0, p_beats_capacity=0.2))
    )
    assert may == "cucumber perhaps up to 6 kg (20%): give away more; as the kitchen says it"
    (why,) = week_surplus.uses_lines(sure)
    assert "more than the usual 1 kg a week" in why and "no hours" in why


def _outlook(mass: np.ndarray, keys: tuple[tuple[str, str], ...]) -> SimpleNamespace:
    """Return what the views ask of an outlook: draws, days, varieties; 100 g a piece."""
    as_of = pd.Timestamp("2026-07-19")
    return SimpleNamespace(
        as_of=as_of,
        dates=pd.date_range(as_of + pd.Timedelta(days=1), periods=mass.shape[1]),
        keys=keys,
        mass_kg=mass,
        counts=np.rint(mass / 0.1),
    )


def test_a_day_says_what_comes_if_it_is_picked() -> None:
    """Picked in a quarter of the futures, 1 to 100 kg of them alike: the median is 50.5."""
    mass = np.zeros((400, 2, 3))
    mass[:100, 0, 0] = np.arange(1, 101)
    mass[:, 1, 0], mass[:, 1, 1] = 1.0, 0.5  # two varieties of one crop are added up draw by draw
    mass[:10, 0, 2] = 3.0  # too few futures to say how much
    outlook = _outlook(mass, (("bean", "A"), ("bean", "B"), ("leek", "C")))
    table = views.next_days(outlook).set_index(["crop", "date"])
    first, second = outlook.dates
    bean = table.loc[("bean", first)]
    assert bean["chance"] == 0.25
    assert bean["q50_kg"] == pytest.approx(50.5)
    assert bean["q10_kg"] == pytest.approx(np.quantile(np.arange(1, 101), 0.1))
    assert bean["q50_count"] == pytest.approx(505)
    assert table.loc[("bean", second), "q90_kg"] == pytest.approx(1.5)
    assert table.loc[("leek", first), "chance"] == pytest.approx(0.025)
    assert np.isnan(table.loc[("leek", first), "q50_kg"])
    assert set(views.due(table.reset_index())["crop"]) == {"bean"}


def _picks_until(last: str, every: int = 2) -> pd.DataFrame:
    days = pd.date_range("2026-06-20", last, freq=f"{every}D")
    return pd.DataFrame(
        {"crop": "zucchini", "variety": "x", "date": days, "mass_kg": 1.0, "count": np.nan}
    )


def _waiting(last: str, mass: np.ndarray) -> pd.DataFrame:
    planted = pd.DataFrame(
        {
            "crop": "zucchini",
            "variety": "x",
            "bed": ["by the gate", "pulled out"],
            "date": pd.Timestamp("2026-05-10"),
            "how": "sown",
            "removed": [pd.NaT, pd.Timestamp("2026-07-01")],
        }
    )
    garden = garden_from_frames(plantings=planted)
    return views.overdue(_outlook(mass, (("zucchini", "x"),)), garden, _picks_until(last))


@pytest.mark.parametrize(("last", "late"), [("2026-07-18", False), ("2026-07-08", True)])
def test_a_crop_that_waited_long_is_overdue(last: str, late: bool) -> None:
    """Usually picked every other day; twelve days are long, two are not."""
    mass = np.full((100, 7, 1), 2.0)
    mass[:50, 0] = 6.0
    found = _waiting(last, mass)
    assert bool(len(found)) is late
    if late:
        row = found.iloc[0]
        assert (row["crop"], row["beds"], row["days"]) == ("zucchini", "by the gate", 12)
        assert row["usual_days"] == 2.0
        assert row["q50_kg"] == pytest.approx(4.0)
        assert 0 < row["oversize_share"] < 1


def test_what_is_over_or_next_to_nothing_is_not_overdue() -> None:
    assert _waiting("2026-07-08", np.zeros((100, 7, 1))).empty
    assert _waiting("2026-07-08", np.full((100, 7, 1), 0.01)).empty
    assert _waiting("2026-06-26", np.full((100, 7, 1), 2.0))["days"].tolist() == [24]
    few = np.zeros((100, 7, 1))
    few[:19] = 5.0  # in fewer futures than can be spoken of
    assert _waiting("2026-07-08", few).empty


def test_no_forecast_is_likely_none_up_to_nothing(made_up: SimpleNamespace) -> None:
    row = made_up.weekly.iloc[0].copy()
    row[["q10_kg", "q50_kg", "q90_kg"]] = [0.0, 0.0, 0.004]
    assert week_words.coming_line(row, made_up.week("us")) == "likely none"


def test_what_is_likely_none_has_no_number_of_pieces(made_up: SimpleNamespace) -> None:
    """Three ground cherries weigh less than half an ounce."""
    row = made_up.weekly.iloc[0].copy()
    row[["q10_kg", "q50_kg", "q90_kg", "q50_count"]] = [0.0, 0.009, 0.3, 3.0]
    assert week_words.coming_line(row, made_up.week("us")) == "likely none (up to 11 oz)"
    assert week_words.count_words(row) == ""
    assert week_words.count_words(row.replace(0.009, 0.04)) == "about 3"
    assert week_words.count_words(row.replace(0.009, 0.04).replace(3.0, 0.4)) == ""
    # Beans and peas are weighed: nobody counts them.
    assert week_words.count_words(row.replace(0.009, 0.02)) == ""


def test_a_job_says_what_it_may_fill_and_that_its_hours_are_the_most(
    made_up: SimpleNamespace,
) -> None:
    week = made_up.week("us")
    row = made_up.batches.iloc[2]
    line = week_words.job_line(row, week)
    assert "about 9 pints (4 to 14) from" in line
    assert line.endswith("at most 2 h by hand")
    sure = week_words.job_line(row.replace({4.5: 9.0, 13.5: 9.02}), week)
    assert "about 9 pints from" in sure and sure.endswith("; 2 h by hand")
    loose = row.replace({"pint": "kg"})
    assert week_words.output_words(loose, week) == "about 20 lb (9.9 to 30 lb)"


@pytest.mark.parametrize("days", [7, 8, 123])
def test_an_old_log_is_said_to_be_one_before_anything_else(
    made_up: SimpleNamespace, days: int
) -> None:
    week = replace(made_up.week("metric"), today=made_up.as_of + pd.Timedelta(days=days))
    line = week_words.terminal(week).splitlines()[1]
    assert line.startswith("The log ends on") == (days > 7)
    assert ("4 months ago" in line) == (days == 123)
    head = week_today.head(week).html
    assert ("The log ends on" in head) == (days > 7)
    assert "The log ends on" not in week_words.terminal(made_up.week("metric"))


def test_without_weather_that_is_said_first(made_up: SimpleNamespace) -> None:
    plain = made_up.week("metric")
    week = replace(plain, left_out=plain.left_out.assign(code=NO_WEATHER))
    for said in (week_words.terminal(week).splitlines()[1], week_today.head(week).html):
        assert "Nothing is forecast: there is no weather up to" in said
    assert "Nothing is forecast" not in week_words.terminal(plain)


def test_a_folder_without_weather_and_hours_read_months_later(tmp_path: Path) -> None:
    """From the files to the words: only the heading stands in weather.csv."""
    (tmp_path / "garden.toml").write_text("people = 2\nelevation_m = 200\n")
    (tmp_path / "weather.csv").write_text("date,tmin_c,tmax_c\n")
    rows = [f"2026-07-{day},cucumber,Fen Lantern,2.0" for day in range(14, 26, 2)]
    (tmp_path / "picks.csv").write_text("\n".join(["date,crop,variety,mass_kg", *rows]) + "\n")
    week = planned_week(tmp_path, today="2026-11-25")
    assert week.coming.empty
    said = week_words.terminal(week)
    assert "Nothing is forecast" in said.splitlines()[1]
    assert "4 months ago" in said.splitlines()[2]
    assert "garden.toml gives no hours" in said
    codes = [one["code"] for one in summary(week)["read_first"]]
    assert codes == ["weather.none", "log.old"]
    assert planned_week(tmp_path, as_of="2026-07-24", today="2026-11-25").today is None


def test_the_stock_a_plan_rests_on_is_said_to_be_assumed(made_up: SimpleNamespace) -> None:
    """A fifth of the harvest lies there on the first day of the made-up balance."""
    week = made_up.week("metric")
    said = week_mind.lying_words(week)
    assert "in your kitchen: 1.2 kg cucumber, 900 g zucchini" in said
    assert "recent picks minus what you usually eat" in said
    assert "recent picks minus what you usually eat" in week_page.left_over(week).html
    assert said in week_words.terminal(week)
    none = replace(week, balance=week.balance.assign(carried_in=0.0))
    assert week_mind.lying_words(none) == ""


def test_what_is_eaten_beyond_what_is_enjoyed_is_told_apart(made_up: SimpleNamespace) -> None:
    """Half a kilogram a head and week for five is 0.36 kg a day; 1.8 kg of cucumber are eaten."""
    home = Household(people=5, crops={"cucumber": {"eat_kg_per_person_week": 0.5}})
    fresh = fresh_use(garden_from_frames(household=home), made_up.balance["crop"])
    week = replace(made_up.week("metric"), fresh=fresh)
    said = week_mind.eating_words(week)
    assert "cucumber 1.8 kg (360 g is enjoyed)" in said
    assert "eat_at_most_kg_per_person_week" in week_page.left_over(week).html
    assert "eat_at_most_lb_per_person_week" in week_mind.eating_words(replace(week, units="us"))
    little = replace(week, balance=week.balance.assign(eaten=0.05))
    assert week_mind.eating_words(little) == ""


def test_what_would_help_most_is_sorted_by_a_column_that_is_shown(
    made_up: SimpleNamespace,
) -> None:
    week = made_up.week("metric")
    rows = pd.DataFrame(
        {
            "resource": ["hours on Saturday", "hours on Wednesday", "freezer", "lids"],
            "one_more": ["one hour", "one hour", "10 litres", "a box of 12"],
            "saved_kg": [0.084, 0.65, 0.1901, 0.1904],
            "more_jars": [0.9, 1.3, 4.0, 1.3],
            "value": [4.0, 3.0, 2.0, 1.0],
            "comment": "sure",
            "code": "saving.sure",
        }
    )
    html = week_page.bottlenecks(replace(week, bottlenecks=rows)).html
    named = ["one hour more on Wednesday", "freezer", "lids", "one hour more on Saturday"]
    at = [html.index(name) for name in named]
    assert at == sorted(at)
    assert "what saves most produce first" in html


def test_no_hours_are_the_reason_that_nothing_is_put_up(made_up: SimpleNamespace) -> None:
    plain = made_up.week("us")
    week = replace(plain, hours=plain.hours.assign(hours=0.0), batches=plain.batches.iloc[:0])
    for said in (week_words.terminal(week), week_today.today(week).html):
        assert "garden.toml gives no hours" in said
        assert "saturday = 4" in said
    assert "no hours" not in week_words.terminal(plain)


def test_the_shelf_adds_what_is_planned(made_up: SimpleNamespace) -> None:
    table = views.shelf(made_up.wanted, made_up.batches).set_index("product")
    assert table.loc["dill_pickles", "planned_jars"] == 18
    assert table.loc["canned_snap_beans", "planned_jars"] == 9


def test_shelf_plan_and_target_are_counted_in_one_unit(made_up: SimpleNamespace) -> None:
    """Four quarts on the shelf are 8 pints; 4 quarts, 4 pints and 1 quart planned add 14."""
    book = pd.DataFrame(
        {"date": [made_up.as_of], "product": ["dill pickles"], "jar": ["quart"], "change": [4.0]}
    )
    home = Household(targets={"dill pickles": 20})
    garden = garden_from_frames(None, None, None, book, household=home)
    one = made_up.batches.iloc[[0, 0, 0]].assign(jar=["quart", "pint", "quart"], jars=[4.0, 4, 1])
    (row,) = views.shelf(wanted_jars(garden, made_up.as_of), one).to_dict("records")
    assert (row["unit"], row["stock_jars"], row["target_jars"]) == ("pints", 8.0, 20.0)
    assert row["planned_jars"] == 14.0
    page = week_page.pantry(replace(made_up.week(), wanted=pd.DataFrame([row]))).html
    assert "<td" in page and "pints" in page
    assert "dill pickles, pints: 8 on the shelf, 14 planned, target 20" in page


def test_jars_that_keep_less_long_than_they_last_have_no_day_of_the_last(
    made_up: SimpleNamespace,
) -> None:
    """At the pace of eating the last pint would be eaten years after it is past its best."""
    week = made_up.week()
    late = {"dill_pickles": 10.6, "cucumber_relish": 0.0}
    shelf = week.wanted.assign(unfinished_jars=week.wanted["product"].map(late).astype(float))
    html = week_page.pantry(replace(week, wanted=shelf)).html
    assert "11 of 11 past their best before they are eaten" in html
    assert "Nov 6, 2026" not in html and "Nov 20, 2027" in html


def test_every_product_is_counted_in_a_named_size() -> None:
    """A US pint is half a quart and two half pints (NIST Handbook 44, appendix C)."""
    for key in products()["key"]:
        item = product(key)
        assert item.counted_in
        assert item.counted(item.usual_jar, 3) == 3.0
    assert product("dill_pickles").counted("quart", 1) == 2.0
    assert product("strawberry_jam").counted("pint", 1) == 2.0


def test_the_summary_of_a_week_can_be_written_as_json(made_up: SimpleNamespace) -> None:
    for units in ("us", "metric"):
        week = made_up.week(units)
        said = summary(week, "page.html")
        assert json.loads(json.dumps(said, allow_nan=False)) == said
        assert said["coming"][0]["q50_kg"] == pytest.approx(week.coming["q50_kg"].iloc[0], abs=1e-6)
        lines = week_words.terminal(week)
        assert (" lb" in lines) == (units == "us")
        assert (" kg" in lines) == (units == "metric")


def test_the_week_of_the_sample_from_the_command_line(sample_folder: Path, tmp_path: Path) -> None:
    """One real process: the page is written, standard output is JSON and nothing else."""
    out = tmp_path / "deep" / "week.html"
    told = subprocess.run(
        [sys.executable, "-c", "from harvestcast.report.command.main import main; main()",
         "week", str(sample_folder), "--out", str(out), "--json"],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    said = json.loads(told.stdout)
    assert said["report"] == str(out)
    assert len(said["coming"]) >= 24
    assert said["work"]
    assert "writing the report: done in" in told.stderr
    assert "Traceback" not in told.stderr
    html = out.read_text("utf-8")
    assert "<script" not in html.lower()
    assert html.count("<img ") >= 10
    canned = [row for row in said["work"] if row["method"] in ("boiling_water", "pressure")]
    assert all(row["process_min"] and row["source"] for row in canned)


def test_what_stands_ready_is_said_in_one_line_a_crop(made_up: SimpleNamespace) -> None:
    week = made_up.week("metric")
    assert week_words.standing_words(week) == []
    rows = [("onion", 5.0, 8.0, 12.0, 0.2), ("potato", 0.3, 6.4, 36.0, 0.47)]
    table = pd.DataFrame(rows, columns=["crop", "q10_kg", "q50_kg", "q90_kg", "p_taken"])
    assert week_words.standing_words(replace(week, standing=table)) == [
        "onion: 5 to 12 kg if you bring all of it in (any this week: 20%)",
        "potato: about 6.4 kg, up to 36 kg if you bring all of it in (any this week: 47%)",
    ]
