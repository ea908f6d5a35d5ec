"""Invented kitchens for the tests of the week's programme, drawn with a seed."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from harvestcast.kitchen.handbook.conditions import NO_CONDITIONS
from harvestcast.kitchen.household.capacity import Capacity
from harvestcast.kitchen.solve.inputs import MustDo, ProgrammeInputs, programme_inputs
from harvestcast.records.household import Choices

FloatArray = npt.NDArray[np.float64]
FRIDAY = pd.Timestamp("2026-08-07")

EQUIPMENT: tuple[tuple[str, float], ...] = (
    ("boiling_water_canner", 1.3),
    ("dryer", 10.0),
    ("none", 0.0),
    ("pressure_canner", 2.2),
    ("crock", 24.0 * 3),
)


def random_kitchen(
    seed: int,
    *,
    crops: int = 3,
    options: int = 5,
    days: int = 4,
    draws: int = 3,
    decided: int = 2,
    kg_day: float = 6.0,
    rich: bool = True,
    choices: Mapping[str, Any] | None = None,
    must: tuple[MustDo, ...] = (),
    hours: FloatArray | None = None,
) -> ProgrammeInputs:
    """Return an invented programme.

    ``rich`` adds what is rarer: ripening, oversize fruit, limited refrigerators, crocks, a limit
    on purchases.
    """
    rng = np.random.default_rng(seed)
    names = [f"crop {letter}" for letter in "abcdefghijklmnop"[:crops]]
    offered = []
    for number in range(options):
        kind, busy = EQUIPMENT[int(rng.integers(0, 5 if rich else 4))]
        jars = float(rng.integers(3, 9))
        bag = kind == "none"
        offered.append(
            {
                "option": f"product {number:02d}/pint/{kind}",
                "crop": names[number % crops],
                "product": f"product {number % max(1, options - 1):02d}",
                "label": f"product {number}",
                "method": kind,
                "jar": "pint_bag" if bag else "pint",
                "kg_per_batch": float(rng.uniform(2, 8)),
                "jars_per_batch": jars,
                "pint_jars_per_jar": 1.0,
                "hands_on_h": float(rng.uniform(0.4, 2.2)),
                "equipment": kind,
                "equipment_h": busy * float(rng.uniform(0.8, 1.4)),
                "lids_per_batch": 0.0 if bag else jars,
                "freezer_l_per_batch": 0.6 * jars if bag else 0.0,
                "max_age_days": float(rng.choice([0, 1, 2, 4, 9])),
                "takes_oversize": bool(rng.random() < 0.4),
                "best_by_days": 365.0,
                **NO_CONDITIONS,
                "source": "invented",
            }
        )
    fresh = pd.DataFrame(
        {
            "crop": names,
            "eat_kg_day": rng.uniform(0.1, 0.5, crops),
            "give_kg_day": rng.choice([0.0, 0.2], crops),
            "animals_kg_day": rng.choice([0.0, 0.3], crops),
            "keep_days": rng.choice([1.0, 2.0, 3.0, 5.0, 20.0], crops),
            "place": rng.choice(["refrigerator", "counter", "cool_store"], crops),
            "litres_per_kg": 2.0,
            "ripen_days": rng.choice([0.0, 0.0, 1.0, 3.0], crops) if rich else 0.0,
            "source": "invented",
        }
    )
    fresh["eat_at_most_kg_day"] = fresh["eat_kg_day"] * rng.uniform(1, 2, crops)
    products = sorted({str(one["product"]) for one in offered})
    target = rng.choice([0.0, 6.0, 12.0, 30.0], len(products))
    wanted = pd.DataFrame(
        {
            "product": products,
            "label": products,
            "target_jars": target,
            "stock_jars": 0.0,
            "wanted_jars": target * rng.uniform(0, 1, len(products)),
            "eaten_jars_week": np.nan,
            "run_out": pd.NaT,
        }
    )
    per_day = rng.dirichlet(np.ones(crops)) * kg_day
    picked: dict[tuple[str, str], FloatArray] = {}
    for number, crop in enumerate(names):
        kg = per_day[number] * rng.gamma(1.2, 1 / 1.2, (draws, days))
        kg[rng.random((draws, days)) < 0.2] = 0.0
        share = float(rng.choice([0.0, 0.2])) if rich else 0.0
        picked[crop, "good"] = kg * (1 - share)
        if share:
            picked[crop, "oversize"] = kg * share
    on_hand = pd.DataFrame(
        [
            (FRIDAY - pd.Timedelta(days=age), crop, "good", float(rng.uniform(0, 3)))
            for crop in names
            for age in range(1, 5)
            if rng.random() < 0.5
        ],
        columns=["date", "crop", "grade", "mass_kg"],
    )
    if on_hand.empty:
        on_hand = pd.DataFrame(
            [(FRIDAY - pd.Timedelta(days=1), names[0], "good", 1.0)], columns=on_hand.columns
        )
    limited = rich and rng.random() < 0.5
    capacity = Capacity(
        start=FRIDAY,
        hours=rng.uniform(0, 4, days) if hours is None else hours,
        kinds=("boiling_water_canner", "crock", "dryer", "pressure_canner"),
        pieces=np.array([1.0, float(rng.integers(1, 3)), 1.0, 1.0]),
        stores=(
            ("half_pint", 0.0),
            ("pint", float(rng.integers(4, 30))),
            ("quart", 0.0),
            ("lids", float(rng.integers(4, 30))),
            ("freezer_bags", float(rng.integers(2, 20))),
            ("freezer_l", float(rng.uniform(2, 20))),
            ("refrigerator_l", float(rng.uniform(2, 15)) if limited else np.nan),
            ("cool_store_l", float(rng.uniform(5, 40)) if limited else np.nan),
        ),
        trays=6,
    )
    settings = dict(choices or {})
    if rich and rng.random() < 0.3:
        settings.setdefault("most_purchase", 5.0)
    # A generator of its own leaves every other draw of the kitchen as it was.
    more = np.random.default_rng([seed, 7])
    to_come = {crop: float(more.choice([0.0, 3.0, 12.0, np.inf])) for crop in names}
    made = programme_inputs(
        options=pd.DataFrame(offered),
        fresh=fresh,
        wanted=wanted,
        capacity=capacity,
        choices=Choices(**settings),
        on_hand=on_hand,
        picked=picked,
        decided=decided,
        must=must,
    )
    return replace(made, to_come=to_come if rich else {})


def with_capacity(inputs: ProgrammeInputs, **parts: Any) -> ProgrammeInputs:
    """Return the same programme in a kitchen with other hours, pieces or stores."""
    return replace(inputs, capacity=replace(inputs.capacity, **parts))
