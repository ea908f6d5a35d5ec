"""Figures of what is coming: weekly bands, the season's curve, what beats capacity."""

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


@styled(4.2, 2.9)
def weekly_bands(
    weekly: pd.DataFrame,
    picked: pd.DataFrame,
    *,
    units: Units,
    title: str,
    ax: Axes | None = None,
) -> Axes:
    """Draw the weeks picked so far as bars and the weeks ahead as bands.

    Parameters
    ----------
    weekly : pandas.DataFrame
        Rows of one crop of ``Outlook.weekly(by="crop")``, kg.
    picked : pandas.DataFrame
        Columns ``start`` (first day of the week) and ``mass_kg`` (kg; NaN unknown).
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
    past = picked.sort_values("start")
    ahead = weekly.sort_values("start")
    starts = [*past["start"], *ahead["start"]]
    at = np.arange(len(starts))
    known, coming = at[: len(past)], at[len(past) :]
    if len(past):
        ax.bar(
            known,
            wording.in_mass_unit(past["mass_kg"].to_numpy(float), units),
            width=0.62,
            color=SLATE,
            edgecolor=INK,
            linewidth=0.6,
            label="picked",
        )
    for x, kg in zip(known, past["mass_kg"], strict=True):
        if not kg > 0:  # none found, or not weighed
            ax.annotate(
                "?" if pd.isna(kg) else "0", (x, 0), (0, 3), textcoords="offset points", ha="center"
            )
    bands = (("q10_kg", "q90_kg", PALE, 0.74, "8 in 10"), ("q25_kg", "q75_kg", MID, 0.74, "1 in 2"))
    for low, high, color, width, label in bands:
        lows = wording.in_mass_unit(ahead[low].to_numpy(float), units)
        highs = wording.in_mass_unit(ahead[high].to_numpy(float), units)
        ax.bar(
            coming,
            highs - lows,
            bottom=lows,
            width=width,
            color=color,
            edgecolor=INK,
            linewidth=0.6,
            label=label,
        )
    medians = wording.in_mass_unit(ahead["q50_kg"].to_numpy(float), units)
    ax.hlines(medians, coming - 0.37, coming + 0.37, color=INK, linewidth=2.4, label="middle")
    if len(past) and len(ahead):
        ax.axvline(len(past) - 0.5, color=INK, linewidth=0.8, linestyle=(0, (2, 2)))
    week_axes(ax, at, starts, units, "a week")
    crown(ax, title, ncols=4)
    return ax


def weekly_bands_alt(
    weekly: pd.DataFrame, picked: pd.DataFrame, *, units: Units, title: str
) -> str:
    """Return the figure :func:`weekly_bands` in words."""
    said = []
    known = picked.sort_values("start").dropna(subset="mass_kg")
    if len(known):
        last = known.iloc[-1]
        said.append(
            f"picked in the week from {wording.day(last['start'], units)}: "
            f"{wording.mass(last['mass_kg'], units)}"
        )
    said += [
        f"week from {wording.day(row['start'], units)}: middle "
        f"{wording.mass(row['q50_kg'], units)}, eight times in ten "
        f"{wording.mass_range(row['q10_kg'], row['q90_kg'], units)}"
        for _, row in weekly.sort_values("start").iterrows()
    ]
    return f"{wording.clean(title)}. {'; '.join(said).capitalize()}."


@styled(4.2, 2.9)
def season_curve(
    fitted: pd.DataFrame,
    picks: pd.DataFrame,
    *,
    units: Units,
    as_of: pd.Timestamp,
    title: str,
    ax: Axes | None = None,
) -> Axes:
    """Draw the fitted season of one variety and its picks, each spread over its interval.

    Parameters
    ----------
    fitted : pandas.DataFrame
        Rows of one variety of ``Outlook.fitted`` (kg a day).
    picks : pandas.DataFrame
        Columns ``since``, ``date`` (days the pick covers: after ``since``, up to ``date``) and
        ``kg_per_day``.
    units : {"us", "metric"}
        Units of the axis.
    as_of : pandas.Timestamp
        Last day known.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    days = fitted["date"].to_numpy("datetime64[D]").astype(float)
    low, middle, high, curve = (
        wording.in_mass_unit(fitted[c].to_numpy(float), units)
        for c in ("ready_q10_kg", "ready_q50_kg", "ready_q90_kg", "curve_q50_kg")
    )
    ax.fill_between(days, low, high, color=PALE, edgecolor=MID, linewidth=0.5, label="8 in 10")
    ax.plot(days, curve, color=RUST, linewidth=1.5, linestyle=(0, (5, 2)), label="curve")
    ax.plot(days, middle, color=INK, linewidth=1.6, label="middle")
    ends = picks["date"].to_numpy("datetime64[D]").astype(float)
    begins = picks["since"].to_numpy("datetime64[D]").astype(float)
    rate = wording.in_mass_unit(picks["kg_per_day"].to_numpy(float), units)
    ax.hlines(rate, begins, ends, color=SLATE, linewidth=1.0)
    ax.plot(
        ends, rate, linestyle="", marker="o", markersize=4, markerfacecolor="white",
        markeredgecolor=INK, markeredgewidth=1.0, label="pick",
    )  # fmt: skip
    now = float(np.datetime64(pd.Timestamp(as_of), "D").astype(float))
    ax.axvline(now, color=INK, linewidth=0.8, linestyle=(0, (2, 2)))
    _date_axis(ax, _picking_span(fitted, picks, as_of), units)
    tops = np.concatenate([wording.finite(high), wording.finite(rate)])
    ax.set_ylim(0, _sensible_top(tops))
    ax.set_ylabel(f"{wording.mass_unit(units)} a day")
    crown(ax, title, ncols=4)
    return ax


def season_curve_alt(
    fitted: pd.DataFrame, picks: pd.DataFrame, *, units: Units, as_of: pd.Timestamp, title: str
) -> str:
    """Return the figure :func:`season_curve` in words."""
    said = [f"{len(picks)} picks so far"] if len(picks) else ["no pick so far"]
    known = fitted.dropna(subset="ready_q50_kg")
    if len(known):
        peak = largest(known, "ready_q50_kg")
        said.append(
            f"most a day, by the middle line, about {wording.day(peak['date'], units)}: "
            f"{wording.mass(peak['ready_q50_kg'], units)}"
        )
        now = known.loc[known["date"] <= as_of]
        if len(now):
            said.append(
                f"on {wording.day(as_of, units)}: "
                f"{wording.mass(now.iloc[-1]['ready_q50_kg'], units)} a day"
            )
    else:
        said.append("no curve: its fit is not believed")
    return f"{wording.clean(title)}: the season against the fitted curve. {'; '.join(said)}."


def _picking_span(
    fitted: pd.DataFrame, picks: pd.DataFrame, as_of: pd.Timestamp
) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Leave out the weeks before anything ripens; show a week of them for the rise."""
    last = fitted["date"].max()
    level = fitted["ready_q90_kg"].max()
    alive = fitted.loc[fitted["ready_q90_kg"] > 0.02 * level, "date"]
    first = min(
        [d for d in (alive.min(), picks["since"].min(), as_of) if not pd.isna(d)], default=last
    )
    return first - pd.Timedelta(days=7), last


def _date_axis(ax: Axes, span: tuple[pd.Timestamp, pd.Timestamp], units: Units) -> None:
    first, last = (pd.Timestamp(d).normalize() for d in span)
    days = max(1, (last - first).days)
    step = int(np.ceil(days / 5 / 7)) * 7
    ticks = pd.date_range(last, first, freq=f"-{step}D")[::-1]
    ax.set_xticks(
        ticks.to_numpy("datetime64[D]").astype(float),
        [wording.day(d, units, weekday=False) for d in ticks],
    )
    ax.set_xlim(*(float(np.datetime64(d, "D").astype(float)) for d in (first, last)))
    ax.set_xlabel("day")


def _sensible_top(values: np.ndarray) -> float:
    top = float(values.max()) if len(values) else 0.0
    return 1.08 * top if top > 0 else 1.0


@styled(4.2, 3.0)
def surplus_intervals(
    surplus: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None
) -> Axes:
    """Draw, per crop, what stays over in one week, with its range and its probability.

    Parameters
    ----------
    surplus : pandas.DataFrame
        Rows of one week of ``KitchenPlan.surplus`` (kg), in the order to be shown.
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
    resize(ax, 1.25 + 0.36 * max(1, len(surplus)))
    at = np.arange(len(surplus))[::-1]
    q10, q25, q50, q75, q90 = (
        wording.in_mass_unit(surplus[f"q{q}_kg"].to_numpy(float), units)
        for q in ("10", "25", "50", "75", "90")
    )
    ax.barh(at, q90 - q10, left=q10, height=0.34, color=PALE, edgecolor=INK, linewidth=0.6,
            label="8 in 10")  # fmt: skip
    ax.barh(at, q75 - q25, left=q25, height=0.34, color=MID, edgecolor=INK, linewidth=0.6,
            label="1 in 2")  # fmt: skip
    ax.vlines(q50, at - 0.27, at + 0.27, color=INK, linewidth=2.4, label="middle")
    right = _sensible_top(wording.finite(q90))
    for y, share in zip(at, surplus["p_beats_capacity"], strict=True):
        ax.text(1.02, y, wording.chance(share), transform=ax.get_yaxis_transform(), va="center")
    ax.text(1.02, 1.0, "chance", transform=ax.transAxes, va="bottom", color=SLATE)
    named_rows(ax, at, surplus["crop"])
    ax.set_xlim(0, right)
    ax.set_xlabel(f"{wording.mass_unit(units)} more than can be eaten, given or put up")
    crown(ax, title, ncols=3)
    return ax


def surplus_intervals_alt(surplus: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`surplus_intervals` in words."""
    said = [
        f"{wording.clean(row['crop'])} {wording.mass(row['q50_kg'], units)} in the middle, eight "
        f"times in ten {wording.mass_range(row['q10_kg'], row['q90_kg'], units)}, chance "
        f"{wording.chance(row['p_beats_capacity'])}"
        for _, row in surplus.iterrows()
    ]
    return f"{wording.clean(title)}. {'; '.join(said) if said else 'Nothing is left over'}."
