"""Sentences of what is too much, and what to do with it: in short, and with the reasons."""

from __future__ import annotations

import pandas as pd

from harvestcast.report.messages import MESSAGES, Remark
from harvestcast.report.week import views
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording


def surplus_words(row: pd.Series, week: Week) -> str:
    """Return what is left over in one week: average, 80 % range, chance of anything.

    The average, since the uses of the first week's surplus add up to it.
    """
    chance = f"chance of any {wording.chance(row['p_beats_capacity'])}"
    if row["q90_kg"] < wording.SMALL_KG:
        return "likely none" if row["p_beats_capacity"] < 0.01 else f"likely none, {chance}"
    mean, high = (wording.about_mass(row[q], week.units) for q in ("mean_kg", "q90_kg"))
    if row["q50_kg"] < wording.SMALL_KG:
        return f"up to {high}, on average {mean}, {chance}"
    ends = wording.mass_range(row["q10_kg"], row["q90_kg"], week.units)
    return f"on average {mean} ({ends}), {chance}"


def too_much_rule(week: Week) -> str:
    """Return from when on a surplus is called too much."""
    return (
        f"shown from a {100 * views.EVEN:.0f}% chance, or where "
        f"{wording.mass(views.MUCH_KG, week.units)} is possible"
    )


def may_be_words(rows: pd.DataFrame) -> str:
    """Return the crops of which something could be left over, with the chance of each."""
    return wording.listing(
        f"{wording.clean(row['crop'])} ({wording.chance(row['p_beats_capacity'])})"
        for _, row in rows.iterrows()
    )


def surplus_lines(week: Week) -> list[str]:
    """Return what is too much in the coming week and what to do with it, a line a crop."""
    lines = []
    for _, row in views.left_over(week.surplus).iterrows():
        likely = row["p_beats_capacity"]
        mean, high = (wording.about_mass(row[q], week.units) for q in ("mean_kg", "q90_kg"))
        perhaps = row["q50_kg"] < wording.SMALL_KG
        if perhaps:
            much = f"perhaps up to {high} ({wording.chance(likely)})"
        else:
            much = mean if mean == high else f"on average {mean} (up to {high})"
            much += "" if likely >= views.SURE else f", {wording.chance(likely)} likely"
        own = week.uses.loc[(week.uses["crop"] == row["crop"]) & (week.uses["order"] > 0)]
        do = "; ".join(_use_in_short(use, perhaps=perhaps) for _, use in own.iterrows())
        lines.append(f"{wording.clean(row['crop'])} {much}{f': {do}' if do else ''}")
    return lines


def _use_in_short(use: pd.Series, *, perhaps: bool) -> str:
    """Return a use without what the page's own section says of it; else as the kitchen says it.

    Its amount is a mean over futures, and means little where most of them leave nothing over.
    """
    code = str(use.get("code"))
    if code not in MESSAGES:
        return str(use["words"])
    return Remark(code, {**use["facts"], **({"kg": None} if perhaps else {})}).text


def uses_lines(week: Week) -> list[str]:
    """Return what to do with each crop of which too much is likely, and why it is too much."""
    shown = set(views.left_over(week.surplus)["crop"])
    lines = []
    for crop, own in week.uses.groupby("crop", sort=False):
        if crop in shown:
            why = "; ".join(own.loc[own["order"] == 0, "words"])
            do = "; ".join(own.loc[own["order"] > 0, "words"])
            lines.append(f"{wording.clean(crop)}: {do} (on average {why})")
    return lines
