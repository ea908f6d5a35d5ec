"""What a planting plan says in words: what it rests on, and what falls short and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from harvestcast.records.household import Household
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.futures import SeasonFutures
from harvestcast.season.next.goals import FRESH_SHARE, is_stored
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.why import binding_line
from harvestcast.season.yields.curves import FASTEST, Learned
from harvestcast.words.days import spoken
from harvestcast.words.units import area_key, area_words, mass_words


def bed_words(
    household: Household, asked: float | None, taken: Mapping[str, float]
) -> tuple[float, str]:
    """Return the bed area there is, m2, and where the figure comes from.

    Parameters
    ----------
    household : Household
        Settings.
    asked : float or None
        Area asked for. [m2]
    taken : mapping of str to float
        Most that the plantings of a season took at once, by their name in a sentence; 0 where
        there are none. [m2]
    """
    if asked:
        return asked, f"Bed area: {area_words(asked, household.units)}, as asked for."
    own = household.bed_area_m2
    if own is not None:
        return (
            own,
            f"Bed area: {area_words(own, household.units)}, as in garden.toml "
            f"({area_key(household.units)}).",
        )
    whose = max(taken, key=lambda name: taken[name], default="")
    if taken and taken[whose] > 0:
        return taken[whose], (
            f"Bed area: {area_words(taken[whose], household.units)}. garden.toml gives none "
            f"({area_key(household.units)}), so the plan may take as much as {whose} "
            "took at once; where their area was not written down it follows from plants and usual "
            "spacing."
        )
    return float("inf"), (
        f"Bed area: no limit, because garden.toml gives none ({area_key(household.units)}) and no "
        "plantings of this year say how much there is."
    )


def plan_text(
    options: Sequence[PlantingOption],
    kitchen: KitchenYear,
    fresh: SeasonFutures,
    learned: Learned,
    *,
    probability: float,
    reached: bool,
    binds: Mapping[int, str],
    short: Sequence[str],
    begun: str | None,
    shelf: str | None,
    beds: str,
    left_out: Sequence[str],
    units: str,
) -> tuple[str, ...]:
    """Return what to read beside the tables of a plan."""
    lines = [begun] if begun else []
    if not reached:
        lines.append(
            f"Not every target reaches {probability:.0%}; the list of targets says which and why."
        )
    if binds:
        lines.append(binding_line(binds, kitchen.target_labels))
    lines += [
        *short,
        *([shelf] if shelf else []),
        f"Reliability and glut are counted on {len(fresh.per_plant)} futures that the plan "
        "has not seen, by a rule that decides each week without knowing the next. A fresh target "
        f"is met where at least {FRESH_SHARE:.0%} of the appetite is eaten over the weeks in which "
        "the crop can be had. Batches are counted by the kilogram, jars and lids as bought.",
        beds,
        f"No pick is planned before {FASTEST:.0%} of the almanac's usual heat and days from "
        "planting to the first pick, whatever the log says, and none of a tender crop after the "
        "killing frost.",
    ]
    stored = sorted({option.crop for option in options if is_stored(option.crop)})
    if stored:
        lines.append(
            f"Brought in once and eaten from store as long as it keeps: {', '.join(stored)}. "
            "These are not sown in successions."
        )
    guessed = sorted({o.crop for o in options if "nothing logged" in o.basis})
    if guessed:
        lines.append(
            "Nothing is logged yet of " + ", ".join(guessed) + ": their yields come from the crop "
            "almanac, where gardens differ several-fold, so that no plan can be sure. In 8 of 10 "
            f"possible seasons a plant brings {_almanac_range(guessed, options, fresh, units)}. "
            "One season's log will narrow this down."
        )
    lines += _learned_lines(learned)
    lines.extend(left_out)
    lines.extend(fresh.notices)
    return tuple(lines)


def _learned_lines(learned: Learned) -> list[str]:
    """Say which seasons yields rest on, where not all of the log is of whole seasons."""
    if learned.fit is None:
        return []
    if not learned.whole:
        return ["No season is logged to its end yet: yields rest on an unfinished season."]
    lines = []
    if learned.unfinished:
        rests = [f"{year} (last pick {spoken(last)})" for year, last in learned.ends.items()]
        left = " and ".join(str(year) for year in learned.unfinished)
        lines.append(
            f"Yields rest on the season{'s' if len(rests) > 1 else ''} of {' and '.join(rests)}; "
            f"{left} is not over yet and is left out."
        )
    early = [spoken(day) for day in learned.broken_off]
    if early:
        lines.append(
            f"No pick of the season is written down after {' and '.join(early)}; the plan takes "
            "it that nothing more was picked. Where that is not so, yields come out too low: enter "
            "the picks that are missing."
        )
    return lines


def _almanac_range(
    crops: Sequence[str], options: Sequence[PlantingOption], fresh: SeasonFutures, units: str
) -> str:
    said = []
    for crop in crops:
        place = next(i for i, option in enumerate(options) if option.crop == crop)
        season = fresh.per_plant[:, :, place].sum(axis=1)
        low, high = (
            mass_words(float(one), units) if one >= 0.05 else "almost nothing"
            for one in np.quantile(season, (0.1, 0.9))
        )
        said.append(f"{low} to {high} of {crop}")
    return ", ".join(said)
