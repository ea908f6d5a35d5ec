"""One week's results as plain tables: what every report, summary and JSON of a week is made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.report.check import odd_things
from harvestcast.report.week import views
from harvestcast.words.amounts import Units
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from harvestcast.growth.forecast import Outlook
    from harvestcast.kitchen.messages import Said
    from harvestcast.kitchen.week.plan import KitchenPlan
    from harvestcast.kitchen.week.standing import Standing
    from harvestcast.records.garden import Garden


_SOLVED = ("status", "gap", "seconds", "scenarios", "message")
PLAN_DAYS = 10
"""Days the kitchen is planned for, where the forecast reaches so far."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Week:
    """Everything the week's report shows; masses in kg, as in :mod:`harvestcast.frames`.

    Parameters
    ----------
    place, units, elevation_m, people : str, str, float or None, float
        From the household's settings.
    as_of : pandas.Timestamp
        Last day known.
    weeks, seed, draws : int
        How the forecast was made; ``draws`` is the number of possible futures.
    coming : pandas.DataFrame
        Weekly forecast by crop, with ``last_7_days_kg``.
    picked : pandas.DataFrame
        The season's picks in kg, a row a variety and day.
    fitted, checks, left_out : pandas.DataFrame
        As the outlook gives them.
    batches, balance, surplus, shopping, bottlenecks, cautions : pandas.DataFrame
        As the kitchen's plan gives them.
    hours : pandas.DataFrame
        ``day`` and ``hours`` the household has for putting up.
    wanted : pandas.DataFrame
        Targets of the pantry with ``planned_jars``, and ``past_jars`` and ``unfinished_jars`` of
        :func:`harvestcast.kitchen.household.demand.past_best`.
    notices : pandas.DataFrame
        What was odd in the files.
    spans : pandas.DataFrame
        ``table``, ``rows``, ``first``, ``last``: what the numbers rest on.
    solve : mapping
        ``status``, ``gap``, ``seconds``, ``scenarios``, ``message`` of the programme.
    kept_out : pandas.DataFrame
        Targets that cannot be planned, and why.
    shopping_later, shopping_if : pandas.DataFrame
        What the likely batches of the days after take beyond ``shopping``, and what those take that
        are begun only if enough comes in.
    reasons : pandas.DataFrame
        ``KitchenPlan.reasons``: where the fruit of crops goes whose shelves are full.
    fresh : pandas.DataFrame
        Usual and most fresh use of each crop of ``balance``, and how it keeps.
    standing : pandas.DataFrame
        As the outlook gives it.
    days, overdue : pandas.DataFrame
        The next days by crop (:func:`harvestcast.report.week.views.next_days`), and the crops that
        have waited long for a pick (:func:`harvestcast.report.week.views.overdue`).
    changed : pandas.DataFrame
        ``KitchenPlan.changed``: what was decided before and is no longer so.
    uses : pandas.DataFrame
        ``KitchenPlan.uses``: why something is left over, and a use for each part of it.
    stock : pandas.DataFrame
        As :func:`harvestcast.kitchen.household.book.stock_book` gives it.
    counted : mapping of str to pandas.Timestamp
        Crops whose produce on hand was counted within the days it keeps, and when last.
    today : pandas.Timestamp, optional
        The day it is read, where no day was asked for: an old log is then said to be one.
    crop_words : mapping of str to str
        What the household calls its crops: :func:`harvestcast.words.crops.crops_said_as`.
    since : pandas.Timestamp, optional
        The last day known when the week was planned before, on an earlier evening.
    news : tuple of Said
        What has happened since then that was not to be expected.
    """

    place: str
    units: Units
    elevation_m: float | None
    people: float
    as_of: pd.Timestamp
    weeks: int
    seed: int
    draws: int
    coming: pd.DataFrame
    picked: pd.DataFrame
    fitted: pd.DataFrame
    checks: pd.DataFrame
    left_out: pd.DataFrame
    batches: pd.DataFrame
    balance: pd.DataFrame
    surplus: pd.DataFrame
    shopping: pd.DataFrame
    bottlenecks: pd.DataFrame
    cautions: pd.DataFrame
    hours: pd.DataFrame
    wanted: pd.DataFrame
    notices: pd.DataFrame
    spans: pd.DataFrame
    solve: Mapping[str, Any]
    kept_out: pd.DataFrame = field(default_factory=pd.DataFrame)
    shopping_later: pd.DataFrame = field(default_factory=pd.DataFrame)
    shopping_if: pd.DataFrame = field(default_factory=pd.DataFrame)
    reasons: pd.DataFrame = field(default_factory=pd.DataFrame)
    fresh: pd.DataFrame = field(default_factory=pd.DataFrame)
    days: pd.DataFrame = field(default_factory=pd.DataFrame)
    overdue: pd.DataFrame = field(default_factory=pd.DataFrame)
    standing: pd.DataFrame = field(default_factory=pd.DataFrame)
    changed: pd.DataFrame = field(default_factory=pd.DataFrame)
    uses: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=["crop", "order", "words"])
    )
    stock: pd.DataFrame = field(default_factory=pd.DataFrame)
    counted: Mapping[str, pd.Timestamp] = field(default_factory=dict)
    today: pd.Timestamp | None = None
    crop_words: Mapping[str, str] = field(default_factory=dict)
    since: pd.Timestamp | None = None
    news: tuple[Said, ...] = ()


def planned_week(
    folder: str | Path,
    *,
    as_of: str | None = None,
    weeks: int = 3,
    seed: int = 1,
    say: Callable[[str], None] | None = None,
    today: object = None,
    note: Callable[[str], None] | None = None,
    afresh: bool = False,
) -> Week:
    """Open a garden, forecast and plan: the three verbs in a row, as plain tables.

    Parameters
    ----------
    folder : path
        The garden folder.
    as_of : str, optional
        Last day known; left out: the last day of the log.
    weeks : int
        Weeks ahead.
    seed : int
        Seed of the draws.
    say : callable, optional
        Told what is being done.
    today : date-like, optional
        The day it is read; said of the log's age only where no day was asked for.
    note : callable, optional
        Given, what was decided before stands, and what is decided now is noted beside the reports;
        it is told why where that cannot be done. Left out, the week stands by itself.
    afresh : bool
        Plan as if nothing had been decided before.

    Returns
    -------
    Week
    """
    from harvestcast.records.garden import open_garden

    tell = say or (lambda words: None)
    tell("reading the garden")
    garden = open_garden(folder)
    # The other rooms load only once the files are known to be sound: bad input answers at once.
    from harvestcast.growth.forecast import forecast
    from harvestcast.kitchen.household.jars import own_words
    from harvestcast.kitchen.week.plan import plan_week
    from harvestcast.kitchen.week.standing import changes_since

    with crops_said_as(own_words(garden)):
        tell("forecasting the harvest")
        outlook = forecast(garden, as_of=as_of, weeks=weeks, seed=seed)
        tell("planning the kitchen")
        standing = None if note is None or afresh else _standing(folder, outlook.as_of)
        days = min(PLAN_DAYS, 7 * weeks)
        plan = plan_week(outlook, garden, days=days, standing=standing, seed=seed)
        if note is not None:
            _keep(folder, plan, outlook, garden, note)
        found = week_of(garden, outlook, plan)
        before = None if note is None else _standing(folder, outlook.as_of - pd.Timedelta(days=1))
        if before is not None:
            changes = changes_since(before, outlook, garden).values()
            news = tuple(one for told in changes for one in told)
            found = replace(found, since=before.as_of, news=news)
    if today is None or as_of is not None:
        return found
    return replace(found, today=pd.Timestamp(str(today)))


def _standing(folder: str | Path, as_of: pd.Timestamp) -> Standing | None:
    """Return the latest decision that was made on a day or before it."""
    from harvestcast.kitchen.week.standing import from_plain
    from harvestcast.records.writing.decided import read_runs

    runs = [run for run in read_runs(folder) if pd.Timestamp(run["as_of"]) <= as_of]
    return from_plain(runs[-1]) if runs else None


def _keep(
    folder: str | Path,
    plan: KitchenPlan,
    outlook: Outlook,
    garden: Garden,
    note: Callable[[str], None],
) -> None:
    """Note what is decided; a folder that cannot be written to keeps nobody from the week."""
    from harvestcast.kitchen.week.plan import DECIDED_DAYS
    from harvestcast.kitchen.week.standing import standing_of, to_plain
    from harvestcast.records.writing.decided import write_run

    try:
        write_run(folder, to_plain(standing_of(plan, outlook, garden, DECIDED_DAYS)))
    except InputError as error:
        for problem in error.problems:
            note(f"What is decided could not be noted: {problem}")


def week_of(garden: Garden, outlook: Outlook, plan: KitchenPlan) -> Week:
    """Gather the tables of a week from the results of the other rooms.

    Parameters
    ----------
    garden : Garden
        The household's log and settings.
    outlook : Outlook
        The forecast.
    plan : KitchenPlan
        The plan made of it.

    Returns
    -------
    Week
    """
    from harvestcast.growth.log.picked import picked_days
    from harvestcast.growth.log.series import gather
    from harvestcast.kitchen.household.book import household_on, stock_book
    from harvestcast.kitchen.household.capacity import capacity_of
    from harvestcast.kitchen.household.demand import fresh_use, past_best, wanted_jars
    from harvestcast.kitchen.household.jars import own_words
    from harvestcast.kitchen.household.on_hand import counted_lately
    from harvestcast.kitchen.week.cautions import cautions
    from harvestcast.kitchen.week.refused import kept_out
    from harvestcast.kitchen.week.shopping import more_to_buy

    settings, garden = garden, replace(garden, household=household_on(garden, outlook.as_of))
    household = garden.household
    picked = picked_days(gather(garden, outlook.as_of))
    days = plan.balance["day"].nunique()
    capacity = capacity_of(household, outlook.as_of + pd.Timedelta(days=1), max(1, days))
    batches = views.work(plan.batches)
    decided = batches.loc[batches["decided"]]
    likely = views.later(batches)
    perhaps = views.if_enough(batches)
    wanted = wanted_jars(garden, outlook.as_of)
    first = batches.loc[batches["decided"] | batches["if_kg"].notna()]
    planned = pd.concat([first, likely.reindex(columns=first.columns)], ignore_index=True)
    return Week(
        place=household.place or Path(garden.folder or "garden").name,
        units=household.units,
        elevation_m=household.elevation_m,
        people=household.people,
        as_of=outlook.as_of,
        weeks=outlook.weeks,
        seed=outlook.seed,
        draws=int(outlook.mass_kg.shape[0]),
        coming=views.only_counted(views.coming(outlook, picked), picked),
        days=views.only_counted(views.next_days(outlook), picked),
        overdue=views.overdue(outlook, garden, picked),
        standing=views.ready_to_bring_in(outlook),
        picked=picked,
        fitted=outlook.fitted,
        checks=outlook.checks,
        left_out=outlook.left_out,
        batches=batches,
        balance=plan.balance,
        surplus=plan.surplus,
        shopping=plan.shopping,
        bottlenecks=plan.bottlenecks,
        cautions=cautions(planned, household),
        hours=pd.DataFrame({"day": capacity.dates, "hours": capacity.hours}),
        wanted=views.shelf(wanted, plan.batches).merge(
            past_best(garden, outlook.as_of), on="product", how="left"
        ),
        notices=odd_things(settings),
        spans=_spans(garden, outlook.as_of),
        solve={name: getattr(plan.solve, name) for name in _SOLVED},
        kept_out=kept_out(settings, wanted, outlook.as_of),
        shopping_later=more_to_buy(decided, likely, garden),
        shopping_if=more_to_buy(decided, perhaps, garden),
        reasons=plan.reasons,
        changed=plan.changed,
        uses=plan.uses,
        stock=stock_book(settings, outlook.as_of),
        counted=counted_lately(settings, outlook.as_of),
        fresh=fresh_use(garden, plan.balance["crop"].astype(str)),
        crop_words=own_words(garden),
    )


def _spans(garden: Garden, as_of: pd.Timestamp) -> pd.DataFrame:
    weather = garden.weather
    forecast = weather["kind"] == "forecast"
    tables = {
        "picks": garden.picks.loc[garden.picks["date"] <= as_of],
        "plantings": garden.plantings,
        "weather": weather.loc[~forecast & (weather["date"] <= as_of)],
        "weather of later days": weather.loc[forecast & (weather["date"] > as_of)],
        "pantry": garden.pantry.loc[garden.pantry["date"] <= as_of],
    }
    return pd.DataFrame(
        [(name, len(t), t["date"].min(), t["date"].max()) for name, t in tables.items()],
        columns=["table", "rows", "first", "last"],
    )


def tried(folder: str | Path, week: Week, change: Mapping[str, Any]) -> Week | None:
    """Plan the same forecast with other settings; nothing is written.

    Parameters
    ----------
    folder : path
        The garden folder.
    week : Week
        Results as they are; its day, weeks and seed are used again.
    change : mapping
        Settings to try, as in :func:`harvestcast.kitchen.household.what_if.changed_household`:
        ``{"more_hours": {"saturday": -2}}``. Empty: nothing is tried.

    Returns
    -------
    Week or None
    """
    if not change:
        return None
    from harvestcast.growth.forecast import forecast
    from harvestcast.kitchen.household.book import household_on
    from harvestcast.kitchen.household.what_if import changed_household
    from harvestcast.kitchen.week.plan import plan_week
    from harvestcast.records.garden import open_garden

    garden = open_garden(folder)
    outlook = forecast(garden, as_of=week.as_of, weeks=week.weeks, seed=week.seed)
    days = min(PLAN_DAYS, 7 * week.weeks)
    plan = plan_week(outlook, garden, days=days, change=change, seed=week.seed)
    home = changed_household(household_on(garden, outlook.as_of), change)
    changed = replace(garden, household=home)
    return week_of(changed, outlook, plan)
