"""From a layout and its futures to the tables of a planting plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import (
    BEDS,
    COMPARED,
    GLUT,
    RELIABILITY,
    SOWING_CALENDAR,
    TRADE_OFF,
)
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.messages import Said, said
from harvestcast.season.next.futures import SeasonFutures
from harvestcast.season.next.goals import Goals, is_stored
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.programme import Choices
from harvestcast.season.next.search import Outcome, most_at_once
from harvestcast.season.next.seeds import indoor_days, planting_figures
from harvestcast.season.next.steps import Scaled


def beds_table(
    options: Sequence[PlantingOption],
    plants: Array,
    drawn: SeasonFutures,
    reasons: Mapping[int, Said],
) -> pd.DataFrame:
    """Return what to plant, and what stands and is kept (BEDS)."""
    rows = []
    for place in np.flatnonzero(plants > 0).tolist():
        option = options[place]
        rows.append(
            {
                "crop": option.crop,
                "variety": option.variety,
                "how": "stands" if option.standing else option.how,
                "cover": "glass" if option.covered else None,
                "date": option.since if option.standing else option.date,
                "plants": round(plants[place]),
                "area_m2": plants[place] * option.area_m2,
                "row_m": plants[place] * option.row_m,
                "first_pick": _day(drawn.first_pick[:, place], 0.5, drawn.first),
                "last_pick": _day(drawn.last_pick[:, place], 0.5, drawn.first),
                "mean_kg": plants[place] * drawn.per_plant[:, :, place].sum(axis=1).mean(),
                "basis_code": option.basis,
                "basis": said(option.basis).text,
                "reason_code": reasons[place].code,
                "reason": reasons[place].text,
            }
        )
    return check_frame(pd.DataFrame(rows, columns=BEDS.names), BEDS)


def _day(days: Array, level: float, first: pd.Timestamp) -> Any:
    """Return the date so many days after the first; NaT for nothing in half of the futures."""
    known = days[np.isfinite(days)]
    if len(known) < 0.5 * len(days):
        return pd.NaT
    return first + pd.Timedelta(days=int(np.quantile(known, level)))


def reliability_table(
    kitchen: KitchenYear,
    goals: Goals,
    mine: Outcome,
    rivals: Mapping[str, Outcome],
    short: Mapping[int, Said],
    probability: float,
) -> pd.DataFrame:
    """Return the probability that each target is met (RELIABILITY)."""
    fresh = (mine.year.eaten * goals.fresh_weeks).sum(axis=1)
    got = np.concatenate([mine.year.jars, fresh], axis=1)
    goal = np.concatenate([kitchen.need, goals.fresh_kg])
    names = [*kitchen.products, *(f"fresh: {crop}" for crop in kitchen.crops)]
    labels = kitchen.target_labels
    rows = []
    for place in np.flatnonzero(goal > 0).tolist():
        chance = float(mine.reliability[place])
        pantry = place < len(kitchen.products)
        comment = None
        if chance < probability - 0.02:
            comment = short.get(place, said("target.within_error"))
        rows.append(
            {
                "product": names[place],
                "label": labels[place],
                "kind": "pantry" if pantry else "fresh",
                "unit": "jars" if pantry else "kg",
                "target": goal[place],
                "probability_met": chance,
                "q10": float(np.quantile(got[:, place], 0.1)),
                "mean": float(got[:, place].mean()),
                "this_year_probability": _rival(rivals, "this_year", place),
                "rule_probability": _rival(rivals, "rule_of_thumb", place),
                "limits": " ".join(comment.facts.get("limits", ())) or None if comment else None,
                "comment": comment.text if comment else None,
            }
        )
    return check_frame(pd.DataFrame(rows, columns=RELIABILITY.names), RELIABILITY)


def _rival(rivals: Mapping[str, Outcome], name: str, place: int) -> float:
    return float(rivals[name].reliability[place]) if name in rivals else float("nan")


def glut_table(
    weeks: pd.DatetimeIndex, mine: Outcome, rivals: Mapping[str, Outcome]
) -> pd.DataFrame:
    """Return what comes in beyond what the household can use, per week (GLUT)."""
    glut = mine.year.glut
    frame = pd.DataFrame(
        {
            "week": np.arange(1, len(weeks) + 1),
            "start": weeks,
            "plan_kg": glut.mean(axis=0),
            "plan_q10_kg": np.quantile(glut, 0.1, axis=0),
            "plan_q50_kg": np.quantile(glut, 0.5, axis=0),
            "plan_q90_kg": np.quantile(glut, 0.9, axis=0),
        }
    )
    for column, name in (("this_year_kg", "this_year"), ("rule_kg", "rule_of_thumb")):
        frame[column] = rivals[name].year.glut.mean(axis=0) if name in rivals else np.nan
    return check_frame(frame, GLUT)


def compared_table(
    plants: Array,
    mine: Outcome,
    layouts: Mapping[str, Array],
    results: Mapping[str, Outcome],
    scaled: Mapping[str, Scaled],
    choices: Choices,
) -> pd.DataFrame:
    """Return all layouts on the same fresh futures (COMPARED)."""
    rows = [_compared("plan", 1.0, plants, mine, choices)]
    for name, layout in layouts.items():
        rows.append(_compared(name, 1.0, layout, results[name], choices))
        brought = scaled[name]
        # Each crop brought to the plan's reliability, or as near to it as plants help.
        label = f"{name}.{'as_sure' if brought.reached else 'nearly'}"
        rows.append(_compared(label, brought.scale, brought.plants, brought.outcome, choices))
    return check_frame(pd.DataFrame(rows, columns=COMPARED.names), COMPARED)


def _compared(
    name: str, scale: float, plants: Array, done: Outcome, choices: Choices
) -> dict[str, object]:
    wanted = ~np.isnan(done.reliability)
    glut = done.year.glut.sum(axis=1)
    met = done.met[:, wanted].mean(axis=1) if wanted.any() else np.ones(len(glut))
    return {
        "layout": name,
        "scale": scale,
        "plants": float(plants.sum()),
        "area_m2": most_at_once(plants, choices),
        "mean_reliability": float(np.nanmean(done.reliability)) if wanted.any() else 1.0,
        "least_reliability": float(np.nanmin(done.reliability)) if wanted.any() else 1.0,
        "targets_met_q10": float(np.quantile(met, 0.1)),
        "glut_kg": float(glut.mean()),
        "glut_q90_kg": float(np.quantile(glut, 0.9)),
        "jars": float(done.year.jars.sum(axis=1).mean()),
        "hours": float(done.year.hours.mean()),
    }


def trade_off_table(
    kitchen: KitchenYear, plans: Sequence[tuple[float, Array, Outcome]]
) -> pd.DataFrame:
    """Return what a higher probability costs (TRADE_OFF)."""
    names = kitchen.target_labels
    rows = []
    for probability, plants, done in plans:
        short = np.flatnonzero(np.nan_to_num(done.reliability, nan=1.0) < probability - 0.02)
        wanted = done.reliability[~np.isnan(done.reliability)]
        rows.append(
            {
                "probability": probability,
                "mean_reliability": float(wanted.mean()) if len(wanted) else 1.0,
                "least_reliability": float(wanted.min(initial=1.0)),
                "plants": float(plants.sum()),
                "area_m2": done.area_m2,
                "glut_kg": float(done.year.glut.sum(axis=1).mean()),
                "short": ", ".join(names[place] for place in short.tolist()) or None,
            }
        )
    return check_frame(pd.DataFrame(rows, columns=TRADE_OFF.names), TRADE_OFF)


def sowing_calendar(
    options: Sequence[PlantingOption], plants: Array, drawn: SeasonFutures
) -> pd.DataFrame:
    """Return what to sow and set out when, and when to expect picks (SOWING_CALENDAR)."""
    rows: list[tuple[object, ...]] = []
    due: list[tuple[pd.Timestamp, str, PlantingOption, int, pd.Timestamp, pd.Timestamp]] = []
    for place in np.flatnonzero(plants > 0).tolist():
        option, number = options[place], round(plants[place])
        name = f"{option.crop} {option.variety}"
        if not option.standing:
            task = "sow" if option.how == "sown" else "set out"
            line = said("task.plant", task=task, plants=number, name=name)
            rows.append(
                (option.date, task, option.crop, option.variety, number, option.date, option.date,
                 line.text)
            )  # fmt: skip
            figures = planting_figures(option.crop)
            first, last = indoor_days(option.date, option.how, figures)
            if not pd.isna(first):
                line = said("task.plant", task="sow indoors", plants=number, name=name)
                middle = first + (last - first) // 2
                rows.append(
                    (middle.normalize(), "sow indoors", option.crop, option.variety, number, first,
                     last, line.text)
                )  # fmt: skip
        for task, days in (("first pick", drawn.first_pick), ("last pick", drawn.last_pick)):
            early, middle, late = (
                _day(days[:, place], level, drawn.first) for level in (0.1, 0.5, 0.9)
            )
            if pd.isna(middle) or (is_stored(option.crop) and task == "last pick"):
                continue
            due.append((middle, task, option, number, early, late))
    shown = [options[place].date for place in np.flatnonzero(plants > 0).tolist()]
    shown += [day for one in due for day in (one[0], one[4], one[5])]
    years = len({day.year for day in shown}) > 1
    for middle, task, option, number, early, late in due:
        line = said(
            "task.due",
            name=f"{option.crop} {option.variety}",
            task="brought in" if is_stored(option.crop) else task,
            middle=middle,
            early=early,
            late=late,
            years=years,
        )
        rows.append((middle, task, option.crop, option.variety, number, early, late, line.text))
    frame = pd.DataFrame(rows, columns=SOWING_CALENDAR.names)
    frame = frame.sort_values(["date", "task", "crop", "variety"], kind="stable")
    return check_frame(frame, SOWING_CALENDAR)
