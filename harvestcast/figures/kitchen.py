"""Figures of the kitchen: the days' work, where the harvest goes, the pantry."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from harvestcast.figures.look import (
    FILLS,
    INK,
    LEAF,
    MID,
    PALE,
    PAPER,
    RUST,
    SLATE,
    crown,
    largest,
    named_rows,
    resize,
    styled,
    week_axes,
)
from harvestcast.units import L_PER_CUFT
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

SHARES: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("eaten", "eaten fresh", {"facecolor": LEAF, "hatch": ""}),
    ("put_up", "put up", {"facecolor": MID, "hatch": "////"}),
    ("given", "given away", {"facecolor": PALE, "hatch": "----"}),
    ("carried_out", "still keeping", {"facecolor": PAPER, "hatch": ""}),
    ("spoiled", "left over", {"facecolor": RUST, "hatch": "xxxx"}),
)


def _fill(method: str) -> dict[str, Any]:
    return {"edgecolor": INK, "linewidth": 0.7, **FILLS.get(method, FILLS["other"])}


@styled(4.2, 3.4)
def kitchen_days(
    batches: pd.DataFrame,
    hours: pd.DataFrame,
    *,
    units: Units,
    title: str,
    ax: Axes | None = None,
) -> Axes:
    """Draw the hands-on hours of every day against the hours there are.

    Parameters
    ----------
    batches : pandas.DataFrame
        ``KitchenPlan.batches``: ``day``, ``method``, ``hands_on_h`` (h), ``decided``.
    hours : pandas.DataFrame
        Columns ``day`` and ``hours`` (hands-on hours the household has, h).
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
    resize(ax, 1.35 + 0.3 * max(1, len(hours)))
    rows = {day: len(hours) - 1 - i for i, day in enumerate(hours["day"])}
    at = np.array(list(rows.values()), float)
    ax.barh(
        at, hours["hours"], height=0.78, facecolor="none", edgecolor=SLATE, linewidth=0.9,
        linestyle=(0, (3, 2)),
    )  # fmt: skip
    reached = dict.fromkeys(rows, 0.0)
    shown: list[str] = []
    for _, batch in batches.iterrows():
        method = batch["method"] if batch["method"] in FILLS else "other"
        fill = _fill(method)
        ax.barh(
            rows[batch["day"]], batch["hands_on_h"], left=reached[batch["day"]], height=0.52, **fill
        )
        reached[batch["day"]] += batch["hands_on_h"]
        if method not in shown:
            shown.append(method)
    named_rows(ax, at, (wording.day(d, units) for d in rows))
    right = max([*reached.values(), *hours["hours"].dropna(), 0.5])
    ax.set_xlim(0, 1.05 * right)
    ax.set_xlabel("hands-on hours")
    handles = [Patch(**_fill(m), label=wording.METHODS.get(m, "other")) for m in shown]
    handles.append(
        Patch(facecolor="none", edgecolor=SLATE, linestyle=(0, (3, 2)), label="hours you have")
    )
    crown(ax, title, handles=handles, ncols=2)
    return ax


def kitchen_days_alt(
    batches: pd.DataFrame, hours: pd.DataFrame, *, units: Units, title: str
) -> str:
    """Return the figure :func:`kitchen_days` in words."""
    used = batches.groupby("day")["hands_on_h"].sum()
    said = [
        f"{wording.day(row['day'], units)}: {wording.hours(used[row['day']])} of "
        f"{wording.hours(row['hours'])}"
        for _, row in hours.iterrows()
        if row["day"] in used.index
    ]
    return (
        f"{wording.clean(title)}. {'; '.join(said) if said else 'No work is planned'}. "
        "The table below says what is done on each day."
    )


@styled(4.2, 3.0)
def where_it_goes(
    shares: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None
) -> Axes:
    """Draw, per crop, where the produce of the days planned goes.

    Parameters
    ----------
    shares : pandas.DataFrame
        Columns ``crop``, ``eaten``, ``put_up``, ``given``, ``carried_out``, ``spoiled`` (kg,
        means over draws), in the order to be shown.
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
    resize(ax, 1.5 + 0.34 * max(1, len(shares)))
    at = np.arange(len(shares))[::-1]
    left = np.zeros(len(shares))
    for column, label, fill in SHARES:
        width = wording.in_mass_unit(shares[column].to_numpy(float), units)
        ax.barh(at, width, left=left, height=0.6, edgecolor=INK, linewidth=0.7, label=label, **fill)
        left = left + width
    named_rows(ax, at, shares["crop"])
    ax.set_xlim(left=0)
    ax.set_xlabel(f"{wording.mass_unit(units)}, mean of these days together")
    crown(ax, title, ncols=3)
    return ax


def where_it_goes_alt(shares: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`where_it_goes` in words."""
    said = []
    for _, row in shares.iterrows():
        parts = [
            f"{wording.mass(row[column], units)} {label}"
            for column, label, _ in SHARES
            if row[column] > 0.01
        ]
        said.append(f"{wording.clean(row['crop'])}: {', '.join(parts) or 'nothing'}")
    return f"{wording.clean(title)}, means. {'; '.join(said)}."


@styled(4.2, 3.0)
def pantry_shelf(shelf: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw what stands on the shelf, what the plan adds and the target of every product.

    Parameters
    ----------
    shelf : pandas.DataFrame
        Columns ``label``, ``stock_jars``, ``planned_jars``, ``target_jars`` (jars), in the order
        to be shown.
    units : {"us", "metric"}
        Not used by jars; every figure takes it.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    resize(ax, 1.3 + 0.36 * max(1, len(shelf)))
    at = np.arange(len(shelf))[::-1]
    stock = shelf["stock_jars"].to_numpy(float)
    planned = shelf["planned_jars"].to_numpy(float)
    target = shelf["target_jars"].to_numpy(float)
    ax.barh(at, stock, height=0.5, facecolor=LEAF, edgecolor=INK, linewidth=0.7, label="on shelf")
    ax.barh(at, planned, left=stock, height=0.5, facecolor=PAPER, edgecolor=INK, linewidth=0.7,
            hatch="////", label="this plan")  # fmt: skip
    ax.vlines(target, at - 0.38, at + 0.38, color=RUST, linewidth=2.4, label="target")
    named_rows(ax, at, shelf["label"])
    right = _top(stock + planned, target)
    ax.set_xlim(0, 1.06 * right)
    ax.set_xlabel("jars or bags")
    crown(ax, title, ncols=3)
    return ax


def _top(*columns: np.ndarray) -> float:
    values = wording.finite(np.concatenate(columns))
    return float(values.max()) if len(values) and values.max() > 0 else 1.0


def pantry_shelf_alt(shelf: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`pantry_shelf` in words."""
    said = [
        f"{wording.clean(row['label'])}: {wording.count(row['stock_jars'])} on the shelf, "
        f"{wording.count(row['planned_jars'])} planned, target {wording.count(row['target_jars'])}"
        for _, row in shelf.iterrows()
    ]
    return f"{wording.clean(title)}. {'; '.join(said) if said else 'No target is set'}."


@styled(4.2, 2.9)
def filling_up(room: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None) -> Axes:
    """Draw how a store fills up, or is used up, over the weeks of a season.

    Parameters
    ----------
    room : pandas.DataFrame
        Rows of one store of ``SeasonAhead.room``: ``start``, ``q10``, ``q50``, ``q90``, ``there``
        (NaN: not known), ``unit``.
    units : {"us", "metric"}
        Litres are shown as cubic feet in US units.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    unit, factor = _store_unit(room, units)
    at = np.arange(len(room))
    low, middle, high, there = (
        factor * room[name].to_numpy(float) for name in ("q10", "q50", "q90", "there")
    )
    ax.fill_between(at, low, high, color=PALE, edgecolor=MID, linewidth=0.5, label="8 in 10")
    ax.plot(at, middle, color=INK, linewidth=1.8, label="middle")
    if np.isfinite(there).any():
        ax.axhline(there[0], color=RUST, linewidth=1.6, linestyle=(0, (5, 2)), label="there is")
    week_axes(ax, at, list(room["start"]), units, "")
    ax.set_ylim(0, 1.08 * max(_top(high, there), 1e-9))
    ax.set_ylabel(f"{unit} at week's end")
    crown(ax, title, ncols=3)
    return ax


def _store_unit(room: pd.DataFrame, units: Units) -> tuple[str, float]:
    unit = str(room["unit"].iloc[0]) if len(room) else "room"
    return ("cubic feet", 1 / L_PER_CUFT) if unit == "l" and units == "us" else (unit, 1.0)


def filling_up_alt(room: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`filling_up` in words."""
    if not len(room):
        return f"{wording.clean(title)}. Nothing is known of it."
    unit, factor = _store_unit(room, units)
    there = factor * float(room["there"].iloc[0])
    known = "" if np.isnan(there) else f"There is {wording.significant(there)} {unit}. "
    most = largest(room, "q50")
    low, middle, high = (wording.significant(factor * most[q]) for q in ("q10", "q50", "q90"))
    week = wording.day(most["start"], units)
    return (
        f"{wording.clean(title)}. {known}Most in the week from {week}: "
        f"{middle} {unit}, eight times in ten {low} to {high}."
    )
