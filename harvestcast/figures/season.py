"""Figures of the season's end and of next season."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from harvestcast.figures.look import (
    INK,
    LEAF,
    MID,
    PALE,
    PAPER,
    RUST,
    SERIES,
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


@styled(4.2, 3.3)
def cumulative_heat(
    curves: pd.DataFrame,
    *,
    units: Units,
    title: str,
    since: str = "planting",
    ax: Axes | None = None,
) -> Axes:
    """Draw the yield so far of each variety of a crop against degree-days, with its band.

    Parameters
    ----------
    curves : pandas.DataFrame
        Columns of the ``cumulative`` table (``variety``, ``degree_days`` in degC d,
        ``picked_kg``, ``q05_kg``, ``q50_kg``, ``q95_kg``), the masses per plant.
    units : {"us", "metric"}
        Units of both axes.
    title : str
        Heading, plain text.
    since : str
        From when on degree-days count.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    names = list(dict.fromkeys(curves["variety"]))
    handles: list[Artist] = []
    for i, name in enumerate(names):
        rows = curves.loc[curves["variety"] == name].sort_values("degree_days")
        look = SERIES[i % len(SERIES)]
        heat = wording.in_heat_unit(rows["degree_days"].to_numpy(float), units)
        low, middle, high = (
            wording.in_mass_unit(rows[f"{q}_kg"].to_numpy(float), units)
            for q in ("q05", "q50", "q95")
        )
        ax.fill_between(heat, low, high, color=look["color"], alpha=0.12, linewidth=0)
        every = max(1, len(rows) // 6)
        ax.plot(
            heat, middle, linewidth=1.6, markevery=(i * every // len(names), every), markersize=5,
            markerfacecolor="white", **look,
        )  # fmt: skip
        picked = wording.in_mass_unit(rows["picked_kg"].to_numpy(float), units)
        ax.plot(heat, picked, linewidth=0.7, color=look["color"], drawstyle="steps-post")
        handles.append(Line2D([], [], label=wording.clean(name), markerfacecolor="white", **look))
    ax.set_ylim(bottom=0)
    ax.set_xlabel(f"degree-days since {since} ({wording.heat_unit(units)})")
    ax.set_ylabel(f"{wording.mass_unit(units)} a plant so far")
    handles.append(Line2D([], [], color=SLATE, linewidth=0.7, label="as picked (thin steps)"))
    handles.append(Patch(facecolor=INK, alpha=0.12, label="9 in 10 (pale band)"))
    crown(ax, title, handles=handles, ncols=2)
    return ax


def cumulative_heat_alt(curves: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`cumulative_heat` in words."""
    said = []
    for name, rows in curves.groupby("variety", sort=False):
        last = rows.sort_values("degree_days").iloc[-1]
        said.append(
            f"{wording.clean(name)} ends at {wording.mass(last['q50_kg'], units)} a plant, nine "
            f"times in ten {wording.mass_range(last['q05_kg'], last['q95_kg'], units)}"
        )
    return f"{wording.clean(title)}, yield so far against degree-days. {'; '.join(said)}."


@styled(4.2, 3.0)
def ranking(
    table: pd.DataFrame,
    *,
    units: Units,
    label: str,
    title: str,
    best: str = "best",
    ax: Axes | None = None,
) -> Axes:
    """Draw one measure of every variety with its interval, best first as given.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns ``variety``, ``low``, ``middle``, ``high`` (90 % interval, in the unit of the
        label) and ``p_best`` (probability of being the best of its crop).
    units : {"us", "metric"}
        Every figure takes it; the values come in the unit that the label says.
    label : str
        What is measured, with its unit.
    title : str
        Heading, plain text.
    best : str
        What the chances at the right are of.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    resize(ax, 1.2 + 0.34 * max(1, len(table)))
    at = np.arange(len(table))[::-1]
    low, middle, high = (table[c].to_numpy(float) for c in ("low", "middle", "high"))
    ax.hlines(at, low, high, color=INK, linewidth=1.4, label="9 in 10")
    ax.vlines(np.r_[low, high], np.r_[at, at] - 0.16, np.r_[at, at] + 0.16, color=INK, linewidth=1)
    ax.plot(
        middle, at, linestyle="", marker="D", markersize=6, markerfacecolor=MID,
        markeredgecolor=INK, label="middle",
    )  # fmt: skip
    for y, share in zip(at, table["p_best"], strict=True):
        ax.text(1.02, y, wording.chance(share), transform=ax.get_yaxis_transform(), va="center")
    ax.text(1.02, 1.0, best, transform=ax.transAxes, va="bottom", color=SLATE)
    named_rows(ax, at, table["variety"])
    ax.set_xlim(left=0)
    ax.grid(axis="x", color=PALE, linewidth=0.8)
    ax.set_xlabel(label)
    crown(ax, title)
    return ax


def ranking_alt(
    table: pd.DataFrame, *, units: Units, label: str, title: str, best: str = "best"
) -> str:
    """Return the figure :func:`ranking` in words."""
    said = [
        f"{wording.clean(row['variety'])} {row['middle']:.3g} (nine times in ten "
        f"{row['low']:.3g} to {row['high']:.3g}), {best} with chance "
        f"{wording.chance(row['p_best'])}"
        for _, row in table.iterrows()
    ]
    return f"{wording.clean(title)}, {wording.clean(label)}. {'; '.join(said)}."


@styled(4.2, 3.0)
def pick_calendar(weeks: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw the season's picks, a row a variety and a mark a week, sized by mass.

    Parameters
    ----------
    weeks : pandas.DataFrame
        Columns ``variety``, ``start`` (first day of the week) and ``mass_kg`` (kg; 0 looked and
        found none), in the order to be shown.
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
    names = list(dict.fromkeys(weeks["variety"]))
    resize(ax, 1.1 + 0.3 * max(1, len(names)))
    rows = {name: len(names) - 1 - i for i, name in enumerate(names)}
    at = weeks["variety"].map(rows).to_numpy(float)
    days = weeks["start"].to_numpy("datetime64[D]").astype(float)
    most = weeks.groupby("variety")["mass_kg"].transform("max").to_numpy(float)
    kg = weeks["mass_kg"].to_numpy(float)
    some = kg > 0
    ax.scatter(
        days[some], at[some], s=120 * kg[some] / most[some], facecolor=LEAF, edgecolor=INK,
        linewidth=0.6,
    )  # fmt: skip
    ax.scatter(days[kg == 0], at[kg == 0], s=10, marker="_", color=SLATE, linewidth=1.0)
    ax.set_yticks(list(rows.values()), [wording.clean(n) for n in names])
    ax.set_ylim(-0.7, len(names) - 0.3)
    first, last = weeks["start"].min(), weeks["start"].max()
    step = 28 if (last - first).days < 90 else 56  # long names leave little room
    ticks = pd.date_range(first, last, freq=f"{step}D")
    ax.set_xticks(
        ticks.to_numpy("datetime64[D]").astype(float),
        [wording.day(d, units, weekday=False) for d in ticks],
    )
    ax.grid(axis="y", color=PALE, linewidth=0.8)
    ax.set_xlabel("week from")
    crown(ax, title)
    return ax


def pick_calendar_alt(weeks: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`pick_calendar` in words."""
    said = []
    for name, rows in weeks.groupby("variety", sort=False):
        picked = rows.loc[rows["mass_kg"] > 0]
        if not len(picked):
            continue
        best = largest(picked, "mass_kg")
        said.append(
            f"{wording.clean(name)} from {wording.day(picked['start'].min(), units)} to "
            f"{wording.day(picked['start'].max(), units)}, most in the week from "
            f"{wording.day(best['start'], units)} ({wording.mass(best['mass_kg'], units)})"
        )
    return f"{wording.clean(title)}. {'; '.join(said) if said else 'No picks'}."


@styled(4.2, 3.0)
def weeks_over(weeks: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw the produce of every week and the part that was beyond the kitchen's capacity.

    Parameters
    ----------
    weeks : pandas.DataFrame
        Columns ``start`` (first day of the week), ``picked_kg`` and ``over_kg`` (kg).
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
    at = np.arange(len(weeks))
    picked, over = (
        wording.in_mass_unit(weeks[c].to_numpy(float), units) for c in ("picked_kg", "over_kg")
    )
    used, beyond = picked - over, over > 0
    ax.bar(at, used, width=0.8, facecolor=MID, edgecolor=INK, linewidth=0.6, label="within")
    ax.bar(
        at[beyond], over[beyond], bottom=used[beyond], width=0.8, facecolor=PAPER, edgecolor=RUST,
        linewidth=0.9, hatch="xxxx", hatchcolor=RUST, label="beyond capacity",
    )  # fmt: skip
    week_axes(ax, at, list(weeks["start"]), units, "a week")
    crown(ax, title, ncols=2)
    return ax


def weeks_over_alt(weeks: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`weeks_over` in words."""
    over = weeks.loc[weeks["over_kg"] > 0.05]
    if not len(over):
        return f"{wording.clean(title)}. No week goes beyond capacity."
    most = largest(over, "over_kg")
    return (
        f"{wording.clean(title)}. {len(over)} of {len(weeks)} weeks go beyond capacity; most in "
        f"the week from {wording.day(most['start'], units)}: "
        f"{wording.mass(most['over_kg'], units)}."
    )
