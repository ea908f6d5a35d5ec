"""Sentences of next season: the same ones in the terminal and on the page."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.report.season.words import VERDICTS
from harvestcast.report.week.words import kept_out_words
from harvestcast.season.messages import NOT_LOGGED
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units
from harvestcast.words.units import area_words, mass_words

if TYPE_CHECKING:
    from harvestcast.report.next.results import NextSeason
    from harvestcast.season.next.plan import PlantingPlan


def brief(season: NextSeason) -> Iterator[tuple[str, str]]:
    """Return the lines that matter most, what to plant first."""
    plan, units = season.plan, season.units
    new, stands = planted(plan), standing(plan)
    crops, kept_crops = (
        [
            f"{wording.count(own['plants'].sum())} {wording.clean(crop)}"
            for crop, own in beds.groupby("crop", sort=True)
        ]
        for beds in (new, stands)
    )
    yield "To plant", f"{wording.listing(crops)}." if crops else "Nothing."
    if kept_crops:
        yield "Stays", f"{wording.listing(kept_crops)} stay where they stand."
    if len(plan.beds):
        yield "Bed", f"{bed_at_once(plan, units)} are taken at once at most."
    first = new.head(3)
    if len(first):
        said = [
            f"{wording.day(row['date'], units)} {how(row)} "
            f"{wording.count(row['plants'])} {kind(row)}{where(row)}"
            for _, row in first.iterrows()
        ]
        yield "First", f"{'; '.join(said)}."
    short = plan.reliability.loc[plan.reliability["probability_met"] < plan.probability - 0.02]
    if len(short):
        names = [
            f"{wording.clean(row['label'])} ({wording.chance(row['probability_met'])})"
            for _, row in short.iterrows()
        ]
        small = next((line for line in plan.lines if line.code == "beds.short"), None)
        beds = ""
        if small is not None:
            there, wanted = (area_words(small.facts[name], units) for name in ("there", "wanted"))
            beds = f" The beds are too small: there are {there}, and {wanted} would be needed."
        if plan.beds["basis_code"].isin(NOT_LOGGED).any():
            beds += " Nothing is logged yet of some crops; a season's log makes them surer."
        yield "Falls short", f"{wording.listing(names)}.{beds}"
    kept = [f"{name}: {why}." for name, why in kept_out_words(season.kept_out)]
    if kept:
        yield "Not planned", wording.sentence(" ".join(kept))


def left_out(plan: PlantingPlan) -> list[str]:
    """Return the varieties without a row in the plan, what becomes of each and why."""
    staying = plan.staying
    gone = staying[staying["verdict"] != "keep"]
    return [
        f"left out: {kind(row)} ({VERDICTS[row['verdict']]}): {wording.clean(row['says'])}"
        for _, row in gone.iterrows()
    ]


def planted(plan: PlantingPlan) -> pd.DataFrame:
    """Return the beds that are to be sown or set out, in the order of the days."""
    beds = plan.beds
    return beds[beds["how"] != "stands"].sort_values(["date", "crop"], kind="stable")


def standing(plan: PlantingPlan) -> pd.DataFrame:
    """Return the beds of what stands already and is kept."""
    beds = plan.beds
    return beds[beds["how"] == "stands"].sort_values(["crop", "variety"], kind="stable")


def bed_at_once(plan: PlantingPlan, units: Units) -> str:
    """Return the most bed area that the plan takes in any week of the year."""
    compared = plan.compared
    area = float(compared.loc[compared["layout"] == "plan", "area_m2"].iloc[0])
    return area_words(area, units)


def found(plan: PlantingPlan) -> str:
    """Return how the plan was found and how near the best it is known to be."""
    solve = plan.solve
    return (
        f"The plan was made on {plan.futures} possible seasons in two steps: a programme with "
        "fractions of plants, and a search among whole plants, which looked at "
        f"{wording.count(solve['tried'])} layouts. A plant is added while what it brings (jars "
        "towards their targets, meals, a crop more on the table) is more than what it takes (bed, "
        "work, what is left over). With hindsight, and without the trouble of every further row, "
        f"no layout of those seasons is worth {100 * max(float(solve['gap']), 0.0):.1f}% more "
        "than the plan."
    )


LAYOUTS = {"plan": "plan", "this_year": "this year's beds", "rule_of_thumb": "rule of thumb"}
SURE = {"as_sure": "as sure as the plan", "nearly": "nearly as sure as the plan"}


def layout(code: str, scale: float) -> str:
    """Return the name of beds that are compared, by their code.

    Examples
    --------
    >>> layout("this_year", 1.0), layout("rule_of_thumb.as_sure", 1.5)
    ("this year's beds", 'rule of thumb with 1.5 times the plants, to be as sure as the plan')
    """
    beds, _, brought = code.partition(".")
    if not brought:
        return LAYOUTS[beds]
    times = wording.significant(scale, 2)
    return f"{LAYOUTS[beds]} with {times} times the plants, to be {SURE[brought]}"


def kind(row: pd.Series) -> str:
    """Return crop and variety; the crop alone where the variety is left to the household."""
    crop, variety = wording.clean(row["crop"]), wording.clean(row["variety"])
    return crop if variety == "unnamed" else f"{crop}, {variety}"


def how(row: pd.Series) -> str:
    """Return whether a bed is sown or set out, or stands already."""
    return {"sown": "sow", "set_out": "set out"}.get(str(row["how"]), "stays where it stands")


def where(row: pd.Series) -> str:
    """Return that a bed is under glass, to be put behind what stands there; else nothing."""
    return "" if pd.isna(row.get("cover")) else ", under glass"


def _brings(row: pd.Series, units: Units) -> str:
    """Return what a row brings, on how much bed, and why it is there."""
    amounts = f"{mass_words(row['mean_kg'], units)} from {area_words(row['area_m2'], units)}"
    return f"{amounts}; {wording.clean(row['reason'])}"


def comment(row: pd.Series) -> str:
    """Return why a target falls short, to be put behind a line."""
    return "" if pd.isna(row["comment"]) else f"; {wording.clean(row['comment'])}"


def terminal(season: NextSeason, *, strong: bool = False) -> str:
    """Return the short summary for the terminal."""
    plan, units = season.plan, season.units
    head = f"{wording.clean(season.place)}: beds for {plan.season}"
    out = [f"\x1b[1m{head}\x1b[0m" if strong else head, "", "To plant"]
    for _, row in planted(plan).iterrows():
        when = wording.day(row["date"], units, year=plan.crosses_new_year)
        out.append(
            f"  {when}: {how(row)} {row['plants']} {kind(row)}{where(row)}: {_brings(row, units)}"
        )
    stands = [f"  {row['plants']} {kind(row)}" for _, row in standing(plan).iterrows()]
    if stands:
        out += ["", "Stays where it stands", *stands]
    out += [f"  {line}" for line in left_out(plan)]
    out += ["", f"Targets met (wished: {wording.chance(plan.probability)} of years)"]
    for _, row in plan.reliability.iterrows():
        out.append(
            f"  {wording.clean(row['label'])}: {wording.chance(row['probability_met'])}"
            + comment(row)
        )
    out += [f"  {name}: {why}" for name, why in kept_out_words(season.kept_out)]
    return "\n".join([*out, "", *(wording.clean(line) for line in plan.text)])
