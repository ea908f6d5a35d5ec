"""From the results of a week to the small tables that its figures and pages show."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.words.amounts import SMALL_KG, clean, listing

if TYPE_CHECKING:
    from harvestcast.growth.forecast import Outlook
    from harvestcast.records.garden import Garden

EVEN = 0.5
"""Chance of a surplus from which it is called too much."""
SURE = 0.95
"""Chance of a surplus from which the chance is not said in short."""
MUCH_KG = 1.0
"""Upper end of the range from which a surplus is called too much, however unlikely."""
MAY_BE = 0.05
"""Chance below which nothing is said of a surplus."""
DUE = 0.1
"""Chance of a pick below which a crop is not due on a day."""
LITTLE_KG = 0.2
"""Upper end of the range below which a crop is only named, not shown with its amounts."""
LEAST_DRAWS = 20
"""Draws with a pick below which nothing is said of how much it brings."""
OVERDUE_DAYS, OVERDUE_TIMES, LONG_OVER = 5, 3.0, 35
"""A crop is overdue after so many days without a pick, and so many times its usual days between
picks; after the last number of days it is taken to be over."""
MAY_HANG = 0.2
"""Chance of a pick within a week below which a crop is taken to be over."""
FEW_PICKS, LAST_GAPS, AHEAD_DAYS = 3, 8, 7
"""Days with a pick before its usual days are known, latest gaps they are the median of, and days
within which a pick must be likely enough for the crop not to be over."""


def coming(outlook: Outlook, picked: pd.DataFrame) -> pd.DataFrame:
    """Return the weekly forecast by crop with the last seven days beside it, surest first.

    Parameters
    ----------
    outlook : Outlook
        The forecast.
    picked : pandas.DataFrame
        As :func:`picked_days` returns it.

    Returns
    -------
    pandas.DataFrame
        ``Outlook.weekly(by="crop")`` with ``last_7_days_kg`` (0 where nothing was written down).
    """
    weekly = outlook.weekly(by="crop")
    recent = picked.loc[picked["date"] > outlook.as_of - pd.Timedelta(days=7)]
    sums = recent.groupby("crop")["mass_kg"].apply(lambda kg: kg.to_numpy(float).sum())
    # A crop without a row brought nothing; one whose weight is not known stays unknown.
    weekly["last_7_days_kg"] = [float(sums.get(crop, 0.0)) for crop in weekly["crop"].astype(str)]
    first = weekly.loc[weekly["week"] == 1].set_index("crop")
    keys = {name: -weekly["crop"].map(first[name]).to_numpy(float) for name in ("q50_kg", "q90_kg")}
    ordered = weekly.assign(_middle=keys["q50_kg"], _high=keys["q90_kg"]).sort_values(
        ["_middle", "_high", "crop", "week"], kind="stable"
    )
    return ordered.drop(columns=["_middle", "_high"]).reset_index(drop=True)


def next_days(outlook: Outlook, days: int = 2) -> pd.DataFrame:
    """Return what each crop brings on the next days if it is picked then, and how likely that is.

    A crop picked every other day brings nothing on half of the days; the amounts are those of the
    futures in which somebody picks.

    Parameters
    ----------
    outlook : Outlook
        The forecast.
    days : int
        Days after the last one known.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``date``, ``chance`` (of a pick), ``q10_kg``, ``q50_kg``, ``q90_kg``,
        ``q50_count`` (NaN below :data:`LEAST_DRAWS` futures with a pick); the crops that bring
        most first.
    """
    rows = []
    for crop, mass, count in _by_crop(outlook):
        for day, date in enumerate(outlook.dates[:days]):
            some = mass[:, day] > 0
            told = np.full(4, np.nan)
            if some.sum() >= LEAST_DRAWS:
                told[:3] = np.quantile(mass[some, day], [0.1, 0.5, 0.9])
                told[3] = np.median(count[some, day])
            rows.append((crop, date, some.mean(), *told))
    names = ["crop", "date", "chance", "q10_kg", "q50_kg", "q90_kg", "q50_count"]
    table = pd.DataFrame(rows, columns=names)
    brings = (table["chance"] * table["q50_kg"]).fillna(0.0).groupby(table["crop"]).sum()
    order = (-table["crop"].map(brings)).sort_values(kind="stable").index
    return table.loc[order].reset_index(drop=True)


def only_counted(table: pd.DataFrame, picked: pd.DataFrame) -> pd.DataFrame:
    """Return a table without ``q50_count`` for crops nobody has counted this season.

    Who weighs potatoes does not ask how many there are, and the usual weight of a piece says less.

    Examples
    --------
    >>> table = pd.DataFrame({"crop": ["chard", "zucchini"], "q50_count": [1.0, 9.0]})
    >>> picked = pd.DataFrame({"crop": ["zucchini"], "count": [4.0]})
    >>> only_counted(table, picked)["q50_count"].tolist()
    [nan, 9.0]
    """
    counted = set(picked.loc[picked["count"] > 0, "crop"])
    return table.assign(q50_count=table["q50_count"].where(table["crop"].isin(counted)))


def _by_crop(outlook: Outlook) -> Iterator[tuple[str, np.ndarray, np.ndarray]]:
    """Yield every crop with the mass and the pieces of its picks, (draws, days)."""
    counts = outlook.counts
    for crop in sorted({crop for crop, _ in outlook.keys}):
        own = [i for i, key in enumerate(outlook.keys) if key[0] == crop]
        yield crop, outlook.mass_kg[:, :, own].sum(axis=2), counts[:, :, own].sum(axis=2)


def due(days: pd.DataFrame, kg: float = SMALL_KG, *, below: bool = False) -> pd.DataFrame:
    """Return the rows of crops that are due on any of the next days.

    Parameters
    ----------
    days : pandas.DataFrame
        As :func:`next_days` returns it.
    kg : float
        What the upper end of the range must reach.
    below : bool
        The crops that are due, and do not reach it, instead.

    Returns
    -------
    pandas.DataFrame
    """
    if not len(days):
        return days
    likely = days.loc[(days["chance"] >= DUE) & (days["q90_kg"] >= SMALL_KG)]
    much = set(likely.loc[likely["q90_kg"] >= kg, "crop"])
    return days.loc[days["crop"].isin(set(likely["crop"]) - much if below else much)]


def first_rows(weekly: pd.DataFrame, days: pd.DataFrame) -> list[str]:
    """Return the crops worth a row of the first screen, those of which most comes first.

    Parameters
    ----------
    weekly : pandas.DataFrame
        As :func:`coming` returns it.
    days : pandas.DataFrame
        As :func:`next_days` returns it.

    Returns
    -------
    list of str
        Crops due on the next days with :data:`LITTLE_KG`, or of which :data:`MUCH_KG` may come in
        the first week.
    """
    much = (weekly["week"] == 1) & (weekly["q90_kg"] >= MUCH_KG)
    soon = due(days, LITTLE_KG)
    shown = {*weekly.loc[much, "crop"], *(soon["crop"] if len(soon) else ())}
    return [str(crop) for crop in dict.fromkeys([*weekly["crop"], *shown]) if crop in shown]


def overdue(outlook: Outlook, garden: Garden, picked: pd.DataFrame) -> pd.DataFrame:
    """Return the crops that have not been picked for long, and what hangs there.

    Parameters
    ----------
    outlook : Outlook
        The forecast.
    garden : Garden
        The garden it was made for.
    picked : pandas.DataFrame
        As :func:`picked_days` returns it.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``beds`` (names of those it stands in, or empty), ``last`` (day of the last
        pick), ``days`` since then on the first day forecast, ``usual_days`` between picks,
        ``q10_kg``, ``q50_kg``, ``q90_kg`` of the next pick, and ``oversize_share`` of it, by
        mass; most first. Crops that are likely over (:data:`MAY_HANG`), or whose range does not
        reach :data:`MUCH_KG`, are no part of it.
    """
    from harvestcast.growth.future.oversize import oversize_kg

    names = ["crop", "beds", "last", "days", "usual_days", "q10_kg", "q50_kg", "q90_kg",
             "oversize_share"]  # fmt: skip
    got = picked.loc[(picked["mass_kg"] > 0) | (picked["count"] > 0)]
    today = outlook.as_of + pd.Timedelta(days=1)
    waiting = {}
    for crop, own in got.groupby("crop", observed=True):
        dates = own["date"].drop_duplicates().sort_values()
        if len(dates) < FEW_PICKS:
            continue
        usual = dates.diff().dt.days.tail(LAST_GAPS).median()
        days = (today - dates.iloc[-1]).days
        if max(OVERDUE_DAYS, OVERDUE_TIMES * usual) <= days <= LONG_OVER:
            waiting[str(crop)] = (dates.iloc[-1], days, usual)
    if not waiting:
        return pd.DataFrame(columns=names)
    oversize = oversize_kg(outlook, garden)
    rows = []
    for crop, mass, _ in _by_crop(outlook):
        if crop not in waiting:
            continue
        columns = [i for i, key in enumerate(outlook.keys) if key[0] == crop]
        soon = (mass[:, :AHEAD_DAYS] > 0).any(axis=1)
        draws = np.flatnonzero(mass[:, 0] > 0)
        if len(draws) < LEAST_DRAWS:
            draws = np.flatnonzero(soon)
        if len(draws) < LEAST_DRAWS or soon.mean() < MAY_HANG:
            continue
        first = (mass[draws] > 0).argmax(axis=1)
        hangs = mass[draws, first]
        share = oversize[draws, first][:, columns].sum() / hangs.sum()
        beds = _beds_of(garden, crop, outlook.as_of)
        rows.append((crop, beds, *waiting[crop], *np.quantile(hangs, [0.1, 0.5, 0.9]), share))
    table = pd.DataFrame(rows, columns=names)
    table = table.loc[table["q90_kg"] >= MUCH_KG]
    return table.sort_values("q50_kg", ascending=False, kind="stable").reset_index(drop=True)


def ready_to_bring_in(outlook: Outlook) -> pd.DataFrame:
    """Return the rows of ``Outlook.standing`` that are ready within the coming week, most first.

    Crops of which less than :data:`MUCH_KG` stand in the middle of the draws are no part of it.
    """
    table = outlook.standing
    soon = table["ready_from"] <= outlook.as_of + pd.Timedelta(days=7)
    table = table.loc[soon & (table["q50_kg"] >= MUCH_KG)]
    return table.sort_values("q50_kg", ascending=False, kind="stable").reset_index(drop=True)


def _beds_of(garden: Garden, crop: str, day: pd.Timestamp) -> str:
    """Return the beds that a crop stands in on a day, as typed."""
    own = garden.plantings.loc[garden.plantings["crop"] == crop]
    stands = ~(own["date"] > day) & ~(own["removed"] <= day)
    return listing(sorted({clean(bed) for bed in own.loc[stands, "bed"].dropna()}))


def worth_showing(weekly: pd.DataFrame, most: int = 8) -> list[str]:
    """Return the crops of which anything worth a figure may come, most first.

    Parameters
    ----------
    weekly : pandas.DataFrame
        As :func:`coming` returns it.
    most : int
        Figures at most.

    Returns
    -------
    list of str
    """
    some = weekly.loc[weekly["q95_kg"] > 0.05, "crop"]
    return [str(crop) for crop in dict.fromkeys(some)][:most]


def shares(balance: pd.DataFrame) -> pd.DataFrame:
    """Return where the produce of the planned days goes, kg per crop, most first.

    Parameters
    ----------
    balance : pandas.DataFrame
        ``KitchenPlan.balance``.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``lying_kg`` and ``picked_kg`` (in), ``eaten``, ``put_up``, ``given``,
        ``spoiled``, ``carried_out`` (out), kg.
    """
    rows = []
    for crop, own in balance.sort_values("day").groupby("crop"):
        row = {name: own[name].sum() for name in ("eaten", "put_up", "given", "spoiled")}
        row["carried_out"] = own["carried_out"].iloc[-1]
        row["lying_kg"], row["picked_kg"] = own["carried_in"].iloc[0], own["picked"].sum()
        rows.append({"crop": crop, **{k: max(0.0, float(v)) for k, v in row.items()}})
    names = ["crop", "lying_kg", "picked_kg", "eaten", "put_up", "given", "spoiled", "carried_out"]
    table = pd.DataFrame(rows, columns=names)
    table = table.assign(_in=-(table["lying_kg"] + table["picked_kg"])).sort_values("_in")
    return table.loc[table["_in"] < -0.02].drop(columns="_in").reset_index(drop=True)


def shelf(wanted: pd.DataFrame, batches: pd.DataFrame) -> pd.DataFrame:
    """Return the pantry's targets with the jars of the plan beside them, most wanted first.

    Parameters
    ----------
    wanted : pandas.DataFrame
        ``demand.wanted_jars``.
    batches : pandas.DataFrame
        ``KitchenPlan.batches``.

    Returns
    -------
    pandas.DataFrame
        ``wanted`` with ``planned_jars`` and ``unit``, what all four amounts are counted in: the
        usual size of the product, so that a quart of the plan adds two pints.
    """
    from harvestcast.kitchen.handbook.products import product

    table = wanted.copy()
    table["unit"] = [product(str(key)).counted_in for key in table["product"]]
    own = batches.loc[batches["product"].isin(set(table["product"]))]
    counted = [
        product(str(row["product"])).counted(str(row["jar"]), row["jars"])
        for _, row in own.iterrows()
    ]
    planned = pd.Series(counted, index=own["product"], dtype=float).groupby(level=0).sum()
    table["planned_jars"] = table["product"].map(planned).fillna(0.0).astype(float)
    return table.sort_values("wanted_jars", ascending=False, kind="stable").reset_index(drop=True)


def too_much(surplus: pd.DataFrame) -> pd.Series:
    """Return which rows of the surplus are to be reckoned with.

    A surplus is reckoned with where it is as likely as not, or where the upper end of its 80 %
    range comes to :data:`MUCH_KG` at least.
    """
    likely = surplus["p_beats_capacity"] >= EVEN
    return (likely & (surplus["q90_kg"] >= SMALL_KG)) | (surplus["q90_kg"] >= MUCH_KG)


def left_over(surplus: pd.DataFrame, week: int = 1) -> pd.DataFrame:
    """Return the rows of one week that are too much (:func:`too_much`), likeliest first."""
    own = surplus.loc[(surplus["week"] == week) & too_much(surplus)]
    return own.sort_values("p_beats_capacity", ascending=False, kind="stable").reset_index(
        drop=True
    )


def may_be_left(surplus: pd.DataFrame, week: int | None = None) -> pd.DataFrame:
    """Return the likeliest row of every other crop of which something could be left over.

    Parameters
    ----------
    surplus : pandas.DataFrame
        ``KitchenPlan.surplus``.
    week : int, optional
        One week; left out: all of them, and a crop that is too much in any is not listed.

    Returns
    -------
    pandas.DataFrame
        Rows of ``surplus``, likeliest first.
    """
    own = surplus if week is None else surplus.loc[surplus["week"] == week]
    listed = set(own.loc[too_much(own), "crop"])
    some = own.loc[~own["crop"].isin(listed) & (own["p_beats_capacity"] >= MAY_BE)]
    some = some.sort_values("p_beats_capacity", ascending=False, kind="stable")
    return some.drop_duplicates("crop").reset_index(drop=True)


def later(batches: pd.DataFrame) -> pd.DataFrame:
    """Return what is likely on the days not decided yet, a row a way of putting up.

    Means over the draws, so batches need not be whole; what comes to less than a third
    of a batch is left out.

    Parameters
    ----------
    batches : pandas.DataFrame
        ``KitchenPlan.batches``.

    Returns
    -------
    pandas.DataFrame
        The columns of ``batches`` with the sums of all such days, ``day`` and ``last_day`` the
        first and last of them; most hours first.
    """
    own = batches.loc[~batches["decided"] & batches["if_kg"].isna()]
    keys = ["product", "method", "jar", "equipment", "crop"]
    sums = ["batches", "mass_kg", "jars", "hands_on_h", "equipment_h"]
    if not len(own):
        return own.assign(last_day=own["day"])
    grouped = own.sort_values("day").groupby(keys, sort=False, dropna=False)
    table = grouped.first()
    table[sums] = grouped[sums].sum()
    table["last_day"] = grouped["day"].max()
    table = table.reset_index()
    some = table.loc[table["batches"] >= 1 / 3]
    return some.sort_values("hands_on_h", ascending=False, kind="stable").reset_index(drop=True)


def if_enough(batches: pd.DataFrame) -> pd.DataFrame:
    """Return the batches that are begun only if enough comes in, in the order of their days."""
    own = batches.loc[batches["if_kg"].notna()]
    return own.sort_values("day", kind="stable").reset_index(drop=True)


def work(batches: pd.DataFrame) -> pd.DataFrame:
    """Return the batches in the order of the days, the surest and longest first in a day."""
    some = batches.loc[(batches["batches"] > 0.05) & (batches["mass_kg"] > 0)]
    return some.sort_values(
        ["day", "decided", "hands_on_h"], ascending=[True, False, False], kind="stable"
    ).reset_index(drop=True)
