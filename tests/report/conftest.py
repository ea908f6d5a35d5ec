"""Made-up results of the other rooms, every table checked against its specification."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast import frames
from harvestcast.records.garden import garden_from_frames
from harvestcast.records.household import Household
from harvestcast.report.backtest.results import PastWeeks, past_weeks_of
from harvestcast.report.html.render import write_report
from harvestcast.report.next.results import NextSeason, next_of
from harvestcast.report.season.ahead.results import ahead_of
from harvestcast.report.season.results import SeasonEnd, season_of
from harvestcast.report.week import views
from harvestcast.report.week.results import Week
from harvestcast.words.amounts import Units

AS_OF = pd.Timestamp("2026-07-19")
NASTY = '<script>alert(1)</script> & "$x^2$"'
CROPS = {
    "cucumber": ("Fen Lantern", 6.0),
    "zucchini": ("Old Bellows", 4.5),
    "snap bean": ("Thread $5 & <b>Button</b>", 1.6),
    "hot pepper": ("Grumble", 0.3),
}
SHARES = {"05": 0.45, "10": 0.55, "25": 0.8, "50": 1.0, "75": 1.25, "90": 1.6, "95": 1.85}


def weekly(weeks: int = 3) -> pd.DataFrame:
    rows = []
    for crop, (_, kg) in CROPS.items():
        for week in range(1, weeks + 1):
            start = AS_OF + pd.Timedelta(days=7 * (week - 1) + 1)
            level = kg * (1 + 0.3 * week)
            row = {
                "crop": crop,
                "week": week,
                "start": start,
                "end": start + pd.Timedelta(days=6),
                "mean_kg": 1.05 * level,
                "mean_count": np.nan,
            }
            for q, share in SHARES.items():
                row[f"q{q}_kg"] = level * share ** (1 + 0.3 * week)
                row[f"q{q}_count"] = np.nan if crop == "snap bean" else 6 * level * share
            rows.append(row)
    return frames.check_frame(pd.DataFrame(rows), frames.WEEKLY_BY_CROP)


def surplus() -> pd.DataFrame:
    table = weekly()
    kg = [c for c in table.columns if c.endswith("_kg")]
    table[kg] = 0.3 * table[kg]
    table = table.rename(columns={"mean_kg": "mean_kg"})
    table["p_beats_capacity"] = np.linspace(0.0, 1.0, len(table))
    return frames.check_frame(table, frames.SURPLUS)


def fitted(crop: str = "cucumber") -> pd.DataFrame:
    days = pd.date_range("2026-05-20", AS_OF + pd.Timedelta(days=21))
    heat = np.arange(len(days)) * 11.0
    curve = 0.9 / (1 + np.exp(-(heat - 480) / 60)) / (1 + np.exp((heat - 1300) / 90))
    wave = curve * np.exp(0.25 * np.sin(np.arange(len(days)) / 5.0))
    table = pd.DataFrame(
        {
            "date": days,
            "crop": crop,
            "variety": CROPS[crop][0],
            "degree_days": heat,
            "ready_q10_kg": 0.6 * wave,
            "ready_q50_kg": wave,
            "ready_q90_kg": 1.7 * wave,
            "curve_q50_kg": curve,
        }
    )
    return frames.check_frame(table, frames.FITTED)


def pick_rates() -> pd.DataFrame:
    table = fitted()
    known = table.loc[(table["date"] <= AS_OF) & (table["ready_q50_kg"] > 0.02)]
    ends = known["date"].iloc[2::3]
    return pd.DataFrame(
        {
            "since": ends - pd.Timedelta(days=3),
            "date": ends,
            "kg_per_day": known["ready_q50_kg"].iloc[2::3] * np.resize([0.8, 1.2, 1.0], len(ends)),
        }
    ).reset_index(drop=True)


def picked_weeks() -> pd.DataFrame:
    starts = [AS_OF - pd.Timedelta(days=7 * k - 1) for k in (4, 3, 2, 1)]
    return pd.DataFrame({"start": starts, "mass_kg": [0.0, 2.1, np.nan, 6.3]})


def batches() -> pd.DataFrame:
    rows = [
        (1, "cucumber", "dill_pickles", "Dill pickles", "boiling_water", 2, "pint", 18, 3.0, 15,
         None, 0.5, True),
        (1, "zucchini", "frozen_zucchini", "Zucchini, frozen", "freezing", 1, "pint_bag", 6, 0.8,
         None, None, 0.5, True),
        (2, "snap bean", "canned_snap_beans", "Snap beans", "pressure", 1, "pint", 9, 2.0, 20,
         11.0, 1.0, True),
        (5, "hot pepper", "dried_hot_peppers", "Hot peppers, dried", "drying", 0.4, "half_pint",
         1.3, 0.5, None, None, None, False),
        (6, "cucumber", "cucumber_relish", "Cucumber relish", "boiling_water", 1, "half_pint", 8.6,
         2.5, 10, None, 0.5, False),
    ]  # fmt: skip
    table = pd.DataFrame(
        [
            {
                "day": AS_OF + pd.Timedelta(days=day),
                "crop": crop,
                "product": product,
                "label": label,
                "method": method,
                "batches": number,
                "mass_kg": 3.0 * number,
                "jar": jar,
                "jars": jars,
                "jars_low": 0.5 * jars if decided else np.nan,
                "jars_high": 1.5 * jars if decided else np.nan,
                "hands_on_h": hours,
                "equipment": method,
                "equipment_h": 1.5 * number,
                "process_min": minutes,
                "pressure_psi": psi,
                "headspace_in": space,
                # Made up like the times: no such rows stand in any table.
                "pack": None if minutes is None else "raw",
                "gauge": None if psi is None else "dial",
                "acid": None if minutes is None else "none_added",
                "lemon_juice_tbsp": None,
                "citric_acid_tsp": None,
                "band_low_ft": None if minutes is None else 1001.0,
                "band_high_ft": None if minutes is None else 3000.0,
                "best_by": AS_OF + pd.Timedelta(days=365),
                "decided": decided,
                "source": "Made-up handbook <2026>, table 1",
                "reason": "3 of 12 pints on the shelf",
            }
            for day, crop, product, label, method, number, jar, jars, hours, minutes, psi, space,
            decided in rows
        ]
    )  # fmt: skip
    return frames.check_frame(
        table.assign(code=pd.NA, facts=None, if_kg=np.nan, since=pd.NaT), frames.BATCHES
    )


def hours() -> pd.DataFrame:
    days = [AS_OF + pd.Timedelta(days=k) for k in range(1, 11)]
    return pd.DataFrame({"day": days, "hours": [4, 2, 1, 1, 1.5, 5, 3, 1, 1, 1]})


def balance() -> pd.DataFrame:
    rows = []
    for crop, (_, kg) in CROPS.items():
        rows.append(
            {
                "day": AS_OF + pd.Timedelta(days=1),
                "crop": crop,
                "carried_in": 0.2 * kg,
                "picked": kg,
                "eaten": 0.3 * kg,
                "put_up": 0.4 * kg,
                "given": 0.1 * kg,
                "spoiled": 0.15 * kg,
                "carried_out": 0.25 * kg,
            }
        )
    return frames.check_frame(pd.DataFrame(rows), frames.BALANCE)


def wanted() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "product": ["dill_pickles", "canned_snap_beans", "cucumber_relish"],
            "label": ["Dill pickles", "Snap beans", "Cucumber relish"],
            "target_jars": [40.0, 30.0, 12.0],
            "stock_jars": [11.0, 0.0, 14.0],
            "wanted_jars": [29.0, 30.0, 0.0],
            "eaten_jars_week": [0.7, np.nan, 0.2],
            "run_out": [pd.Timestamp("2026-11-06"), pd.NaT, pd.Timestamp("2027-11-20")],
        }
    )
    return frames.check_frame(table, frames.WANTED)


def shopping() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "item": ["vinegar, 5% acidity", "canning salt", "lids"],
            "needed": [4.0, 0.4, 33.0],
            "in_stock": [1.0, 1.0, 12.0],
            "to_buy": [3.0, 0.0, 21.0],
            "unit": ["l", "kg", "lids"],
            "shown": ["3.2 qt", "nothing", "21 lids"],
            "use": ["dill pickles, relish", "dill pickles", "all jars"],
        }
    )
    return frames.check_frame(table, frames.SHOPPING)


def days() -> pd.DataFrame:
    rows = [
        (crop, AS_OF + pd.Timedelta(days=1 + day), 0.9 - 0.4 * day, 0.2 * kg, 0.4 * kg, kg, 3 * kg)
        for crop, (_, kg) in CROPS.items()
        for day in range(2)
    ]
    names = ["crop", "date", "chance", "q10_kg", "q50_kg", "q90_kg", "q50_count"]
    return pd.DataFrame(rows, columns=names)


def overdue() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "crop": ["zucchini"],
            "beds": [NASTY],
            "last": [AS_OF - pd.Timedelta(days=10)],
            "days": [11],
            "usual_days": [2.0],
            "q10_kg": [6.0],
            "q50_kg": [18.0],
            "q90_kg": [30.0],
            "oversize_share": [0.33],
        }
    )


def coming() -> pd.DataFrame:
    table = weekly()
    table["last_7_days_kg"] = np.resize([6.3, 6.3, 6.3, np.nan, np.nan, np.nan, 0.0], len(table))
    return table


def picked() -> pd.DataFrame:
    rates = pick_rates()
    return pd.DataFrame(
        {
            "crop": "cucumber",
            "variety": CROPS["cucumber"][0],
            "date": rates["date"],
            "mass_kg": 3 * rates["kg_per_day"],
            "count": np.nan,
        }
    )


def bottlenecks() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "resource": ["hours on Saturday", "canner"],
            "one_more": ["one hour on Saturday", "one canner load a day"],
            "saved_kg": [1.2, 0.0],
            "more_jars": [3.0, 0.0],
            "value": [4.0, 0.0],
            "comment": ["re-solved", pd.NA],
        }
    )
    return frames.check_frame(table.assign(code=pd.NA, facts=None), frames.BOTTLENECKS)


def checks() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "crop": ["cucumber", "snap bean"],
            "variety": [CROPS["cucumber"][0], CROPS["snap bean"][0]],
            "code": ["ranges.hold", "picks.enough"],
            "check": ["80 % intervals hold", "enough picks"],
            "statistic": [0.78, 2.0],
            "operator": [">=", ">="],
            "threshold": [0.7, 5.0],
            "passed": [True, False],
            "comment": [pd.NA, "the curve rests on the almanac"],
        }
    )
    return frames.check_frame(table, frames.CHECKS)


def left_out() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "crop": ["kale"],
            "variety": [NASTY],
            "bed": [pd.NA],
            "date": [pd.NaT],
            "code": ["planting.undated"],
            "reason": ["no planting date and no pick"],
        }
    )
    return frames.check_frame(table, frames.LEFT_OUT)


def notices() -> pd.DataFrame:
    table = pd.DataFrame(
        {
            "file": ["picks.csv", "picks.csv"],
            "line": [14.0, np.nan],
            "column": ["note", pd.NA],
            "value": [NASTY, pd.NA],
            "odd": ["an odd note", "a gap of nine days"],
            "done": ["kept as typed", "nothing"],
            "code": ["test.odd", pd.NA],
            "facts": [{"days": 9}, None],
        }
    )
    return frames.check_frame(table.assign(code=pd.NA, facts=None), frames.NOTICES)


def spans() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "table": ["picks", "weather", "weather of later days"],
            "rows": [120, 3650, 0],
            "first": [pd.Timestamp("2025-06-20"), pd.Timestamp("2016-01-01"), pd.NaT],
            "last": [AS_OF, AS_OF, pd.NaT],
        }
    )


def a_week(units: str = "us") -> Week:
    """Return results of a week, put together from the made-up tables."""
    return Week(
        place=f"Fernhollow {NASTY}",
        units=units,
        elevation_m=410.0,
        people=4,
        as_of=AS_OF,
        weeks=3,
        seed=1,
        draws=400,
        coming=coming(),
        picked=picked(),
        fitted=fitted(),
        checks=checks(),
        left_out=left_out(),
        batches=batches(),
        balance=balance(),
        surplus=surplus(),
        shopping=shopping(),
        bottlenecks=bottlenecks(),
        cautions=pd.DataFrame(
            {
                "topic": ["vinegar"],
                "caution": [f"Use vinegar of 5 % acidity {NASTY}."],
                "applies_to": ["Dill pickles"],
                "source": ["Made-up handbook"],
                "verified": [True],
            }
        ),
        hours=hours(),
        wanted=views.shelf(wanted(), batches()),
        notices=notices(),
        spans=spans(),
        solve={"status": "optimal", "gap": 0.002, "seconds": 1.2},
        kept_out=pd.DataFrame(
            {
                "product": ["whole_plums"],
                "label": ["Whole plums"],
                "target_jars": [12.0],
                "why": ["no tested time on record here"],
            }
        ),
        shopping_later=shopping().head(1),
        days=days(),
        overdue=overdue(),
    )


@pytest.fixture(scope="session")
def made_up() -> SimpleNamespace:
    """Return every made-up table; tests must not change them."""
    return SimpleNamespace(
        nasty=NASTY,
        week=a_week,
        as_of=AS_OF,
        weekly=weekly(),
        surplus=surplus(),
        fitted=fitted(),
        pick_rates=pick_rates(),
        picked_weeks=picked_weeks(),
        batches=batches(),
        hours=hours(),
        balance=balance(),
        wanted=wanted(),
        shopping=shopping(),
    )


@pytest.fixture(scope="session")
def week_html(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the week's page, made of the made-up results."""
    folder = tmp_path_factory.mktemp("page")
    return write_report("week", folder, folder / "week.html", results=a_week())


@pytest.fixture(scope="session")
def season_end(sample_folder: Path) -> SeasonEnd:
    """Return the sample's first season, looked back on."""
    garden = hc.open_garden(sample_folder)
    return season_of(garden, hc.compare_varieties(garden, year=2025, draws=100))


@pytest.fixture(scope="session")
def next_season(sample_folder: Path) -> NextSeason:
    """Return beds for the sample's next season, from few futures."""
    garden = hc.open_garden(sample_folder)
    plan = hc.plan_next_season(garden, year=2027, futures=10, sowings=1)
    return next_of(garden, plan)


@pytest.fixture(scope="session")
def ahead_html(tmp_path_factory: pytest.TempPathFactory, sample_folder: Path) -> Path:
    """Return the page of the season ahead, of the sample as its beds are in."""
    folder = tmp_path_factory.mktemp("ahead")
    garden = hc.open_garden(sample_folder)
    ahead = hc.season_ahead(garden, "2026-06-01", draws=100)
    return write_report("ahead", folder, folder / "ahead.html", results=ahead_of(garden, ahead))


@pytest.fixture(scope="session")
def season_html(tmp_path_factory: pytest.TempPathFactory, season_end: SeasonEnd) -> Path:
    """Return the page of the season's end."""
    folder = tmp_path_factory.mktemp("season")
    return write_report("season", folder, folder / "season.html", results=season_end)


def past_weeks(units: Units = "us") -> PastWeeks:
    """Return a back-test of two seasons of a made-up log; ten weeks of cucumbers, two of beans."""
    origins = [*pd.date_range("2025-07-05", periods=7, freq="7D"),
               *pd.date_range("2026-07-04", periods=3, freq="7D")]  # fmt: skip
    day = [(*origins, *origins[:2])[k] for k in range(12)]
    middle = np.linspace(2.0, 5.0, 12)
    table = pd.DataFrame(
        {"origin": day, "crop": ["cucumber"] * 10 + ["snap bean"] * 2,
         "variety": "all varieties", "week": 1, "observed": np.resize([1.0, 6.0], 12),
         "mean": middle}
        | {f"q{q}": middle * share for q, share in SHARES.items()}
    ).assign(crps=0.5)  # fmt: skip
    scores = frames.check_frame(table, frames.SCORES)
    picks = pd.DataFrame({"date": day, "crop": table["crop"], "variety": "x", "mass_kg": 1.0})
    household = Household(place=f"Fernhollow {NASTY}", units=units)
    return past_weeks_of(garden_from_frames(picks=picks, household=household), scores)


@pytest.fixture(scope="session")
def backtest_html(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the page of a back-test, made of made-up scores."""
    folder = tmp_path_factory.mktemp("backtest")
    return write_report("backtest", folder, folder / "backtest.html", results=past_weeks())


@pytest.fixture(scope="session")
def next_html(tmp_path_factory: pytest.TempPathFactory, next_season: NextSeason) -> Path:
    """Return the page of next season."""
    folder = tmp_path_factory.mktemp("next")
    return write_report("next", folder, folder / "next.html", results=next_season)
