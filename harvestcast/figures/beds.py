"""Figures of next season: targets, glut by week, the sowing calendar."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from harvestcast.figures.look import (
    INK,
    MID,
    PALE,
    RUST,
    SLATE,
    crown,
    largest,
    named_rows,
    resize,
    styled,
    week_axes,
)
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

UNKNOWN_DAYS = 60
"""Days that are drawn where nobody knows how long a row stands. Our judgement."""


@styled(4.2, 3.0)
def reliability(
    targets: pd.DataFrame, *, units: Units, wish: float, title: str, ax: Axes | None = None
) -> Axes:
    """Draw how often every target is met, beside this year's beds.

    Parameters
    ----------
    targets : pandas.DataFrame
        ``PlantingPlan.reliability``: ``label``, ``probability_met``,
        ``this_year_probability`` (0 to 1), in the order to be shown.
    units : {"us", "metric"}
        Every figure takes it; probabilities have none.
    wish : float
        Probability asked for, 0 to 1.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    resize(ax, 1.3 + 0.36 * max(1, len(targets)))
    at = np.arange(len(targets))[::-1]
    now = 100 * targets["this_year_probability"].to_numpy(float)
    met = 100 * targets["probability_met"].to_numpy(float)
    ax.barh(at, met, height=0.5, facecolor=MID, edgecolor=INK, linewidth=0.7, label="new beds")
    ax.plot(
        now, at, linestyle="", marker="o", markersize=6, markerfacecolor="white",
        markeredgecolor=INK, label="this year's",
    )  # fmt: skip
    ax.axvline(100 * wish, color=RUST, linewidth=1.6, linestyle=(0, (5, 2)), label="wished")
    named_rows(ax, at, targets["label"])
    ax.set_xlim(0, 103)
    ax.set_xlabel("years in 100 that meet the target")
    crown(ax, title, ncols=3)
    return ax


def reliability_alt(targets: pd.DataFrame, *, units: Units, wish: float, title: str) -> str:
    """Return the figure :func:`reliability` in words."""
    said = [
        f"{wording.clean(row['label'])} {wording.chance(row['probability_met'])}"
        + (
            ""
            if pd.isna(row["this_year_probability"])
            else f" (this year's beds {wording.chance(row['this_year_probability'])})"
        )
        for _, row in targets.iterrows()
    ]
    return (
        f"{wording.clean(title)}. Wished: {wording.chance(wish)}. "
        f"{'; '.join(said) if said else 'No target is set'}."
    )


@styled(4.2, 3.0)
def glut_weeks(glut: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw what is beyond use in every week of next season, beside this year's beds.

    Parameters
    ----------
    glut : pandas.DataFrame
        ``PlantingPlan.glut``: ``start``, ``plan_kg``, ``plan_q10_kg``, ``plan_q90_kg``,
        ``this_year_kg`` (kg).
    units : {"us", "metric"}
        Units of the axis.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    at = np.arange(len(glut))
    low, mean, high, now = (
        wording.in_mass_unit(glut[c].to_numpy(float), units)
        for c in ("plan_q10_kg", "plan_kg", "plan_q90_kg", "this_year_kg")
    )
    ax.bar(
        at, high - low, bottom=low, width=0.84, color=PALE, edgecolor=SLATE, linewidth=0.5,
        label="new, 8 in 10",
    )  # fmt: skip
    ax.hlines(mean, at - 0.42, at + 0.42, color=INK, linewidth=2.0, label="mean")
    if np.isfinite(now).any():
        ax.step(at, now, where="mid", color=RUST, linewidth=1.4, linestyle=(0, (5, 2)),
                label="this year's")  # fmt: skip
    week_axes(ax, at, list(glut["start"]), units, "a week beyond use")
    crown(ax, title, ncols=3)
    return ax


def glut_weeks_alt(glut: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`glut_weeks` in words."""
    said = [f"in all {wording.mass(glut['plan_kg'].sum(), units)} on average with the new beds"]
    if glut["this_year_kg"].notna().any():
        said.append(f"{wording.mass(glut['this_year_kg'].sum(), units)} with this year's")
    if len(glut) and glut["plan_kg"].max() > 0:
        most = largest(glut, "plan_kg")
        said.append(f"most in the week from {wording.day(most['start'], units)}")
    return f"{wording.clean(title)}: {', '.join(said)}."


WIDTH, MONTH_PT = 4.2, 26.0
"""Width of the calendar of plantings, inches, and room for the name of a month, points."""


@styled(WIDTH, 3.4)
def sowing_calendar(
    beds: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None
) -> Axes:
    """Draw when every planting goes in and when it is picked.

    Parameters
    ----------
    beds : pandas.DataFrame
        ``PlantingPlan.beds``: ``crop``, ``variety``, ``how``, ``date``, ``plants``,
        ``first_pick``, ``last_pick``, in the order to be shown.
    units : {"us", "metric"}
        Order of the dates.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    resize(ax, 1.4 + 0.28 * max(1, len(beds)))
    at = np.arange(len(beds))[::-1]
    # What stands already has no day of planting to show, only its picks.
    dates = beds.assign(date=beds["date"].where(beds["how"] != "stands"))
    planted, first, last = (_days(dates[c]) for c in ("date", "first_pick", "last_pick"))
    unknown = np.isnan(first) | np.isnan(last)
    first[unknown], last[unknown] = np.nan, np.nan
    ax.hlines(at, planted, first, color=SLATE, linewidth=0.9, linestyle=(0, (2, 2)))
    ax.barh(
        at, last - first, left=first, height=0.46, facecolor=MID, edgecolor=INK, linewidth=0.7,
        label="picked",
    )  # fmt: skip
    for how, mark, label in (("sown", "v", "sow"), ("set_out", "^", "set out")):
        rows = (beds["how"] == how).to_numpy(bool)
        if rows.any():
            ax.plot(
                planted[rows], at[rows], linestyle="", marker=mark, markersize=6,
                markerfacecolor="white" if how == "sown" else INK, markeredgecolor=INK, label=label,
            )  # fmt: skip
    names = [
        f"{v} ({wording.clean(c)})" for c, v in zip(beds["crop"], beds["variety"], strict=True)
    ]
    named_rows(ax, at, names)
    _months(ax, np.concatenate([planted, first, last]), names, units)
    crown(ax, title, ncols=3)
    return ax


def _months(ax: Axes, days: np.ndarray, names: list[str], units: Units) -> None:
    """Label the months, as many as have room beside the longest name of a row."""
    ax.set_xlabel("first of the month")
    known = days[np.isfinite(days)]
    if not len(known):
        return
    begins, ends = (pd.Timestamp(0) + pd.Timedelta(days=d) for d in (known.min(), known.max()))
    months = pd.date_range(begins, ends + pd.Timedelta(days=5), freq="MS")
    room = 72 * WIDTH - 30 - 5.6 * max(len(wording.clean(name)) for name in names)
    step = int(np.ceil(len(months) / max(room // MONTH_PT, 2))) if len(months) else 1
    ax.set_xticks(
        _days(pd.Series(months)),
        ["" if i % step else wording.day(m, units, weekday=False).strip(" 1")
         for i, m in enumerate(months)],
    )  # fmt: skip
    ax.grid(axis="x", color=PALE, linewidth=0.8)


@styled(4.2, 3.0)
def beds_year(places: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw what stands in every bed from when to when.

    Parameters
    ----------
    places : pandas.DataFrame
        ``PlantingPlan.places``: ``bed``, ``crop``, ``date``, ``until``, ``code``; rows without a
        bed or a day are left out.
    units : {"us", "metric"}
        Order of the dates.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
        One line a row of the plan, under the name of its bed; hatched where a family comes back
        too soon.
    """
    assert ax is not None
    shown = _in_beds(places)
    resize(ax, 1.2 + 0.25 * max(1, len(shown)))
    at = np.arange(len(shown))[::-1]
    start, end = _days(shown["date"]), _days(shown["until"])
    end = np.where(np.isnan(end), start + UNKNOWN_DAYS, end)
    soon = (shown["code"] == "place.too_soon").to_numpy(bool)
    for mine, hatch, label in ((~soon, "", "stands"), (soon, "////", "its family too soon")):
        if mine.any():
            ax.barh(
                at[mine], (end - start)[mine], left=start[mine], height=0.62,
                facecolor=PALE if hatch else MID, edgecolor=INK, linewidth=0.7, hatch=hatch,
                label=label,
            )  # fmt: skip
    for place, day, crop in zip(at, start, shown["crop"], strict=True):
        ax.text(
            day + 3, place, wording.clean(crop), va="center", fontsize=8.5, clip_on=True,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
        )  # fmt: skip
    beds = shown["bed"].astype(str).tolist()
    names = [bed if i == 0 or bed != beds[i - 1] else "" for i, bed in enumerate(beds)]
    named_rows(ax, at, names)
    for place, name in zip(at[1:], names[1:], strict=True):
        if name:
            ax.axhline(place + 0.5, color=SLATE, linewidth=0.6)
    _months(ax, np.concatenate([start, end]), names or [""], units)
    crown(ax, title, ncols=2)
    return ax


def _in_beds(places: pd.DataFrame) -> pd.DataFrame:
    shown = places[places["bed"].notna() & places["date"].notna()]
    return shown[shown["code"] != "place.stands"]


def beds_year_alt(places: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`beds_year` in words."""
    said = [
        f"{wording.clean(bed)}: "
        + ", ".join(
            f"{wording.clean(row['crop'])} from {wording.day(row['date'], units)}"
            + ("" if pd.isna(row["until"]) else f" to {wording.day(row['until'], units)}")
            + (" (its family too soon)" if row["code"] == "place.too_soon" else "")
            for _, row in rows.iterrows()
        )
        for bed, rows in _in_beds(places).groupby("bed", sort=True)
    ]
    return f"{wording.clean(title)}. {'; '.join(said) if said else 'No bed is named'}."


def _days(dates: pd.Series) -> np.ndarray:
    """Return days since 1970, NaN where unknown: not a time would be a number far off."""
    days = (dates - pd.Timestamp(0)) / pd.Timedelta(days=1)
    return np.array(days.to_numpy(float))


def sowing_calendar_alt(beds: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`sowing_calendar` in words."""
    said = [
        f"{wording.clean(row['variety'])} ({wording.clean(row['crop'])}): {row['plants']} "
        f"{_gone_in(row, units)}, picked from {wording.day(row['first_pick'], units)} to "
        f"{wording.day(row['last_pick'], units)}"
        for _, row in beds.iterrows()
    ]
    return f"{wording.clean(title)}. {'; '.join(said) if said else 'Nothing is planted'}."


def _gone_in(row: pd.Series, units: Units) -> str:
    if row["how"] == "stands":
        return "stay where they stand"
    return f"{'sown' if row['how'] == 'sown' else 'set out'} {wording.day(row['date'], units)}"
