"""Invented kitchens and seasons for the planner's tests, as arrays."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.goals import Goals, eaten_points, jar_points
from harvestcast.season.next.programme import Choices


@dataclass(frozen=True)
class Invented:
    """A kitchen, what can be planted, targets, and a way to draw seasons."""

    kitchen: KitchenYear
    choices: Choices
    goals: Goals
    centre: np.ndarray
    width: np.ndarray
    size: np.ndarray

    def draw(self, futures: int, seed: int) -> np.ndarray:
        """Return picks of one plant, shape (futures, weeks, options), kg."""
        rng = np.random.default_rng(seed)
        crop = self.choices.crop
        weeks, options = self.kitchen.weeks, len(crop)
        late = rng.normal(0, 0.7, (futures, 1, 1))
        kinds = len(self.choices.group_high)
        own = np.exp(rng.normal(0, 0.3, (futures, kinds)) - 0.045)[:, self.choices.group]
        year = np.exp(rng.normal(0, 0.2, (futures, len(self.kitchen.crops))) - 0.02)[:, crop]
        week = np.arange(weeks)[None, :, None]
        shape = np.exp(-0.5 * ((week - self.centre - late) / self.width) ** 2)
        shape = np.where(week < 0.85 * weeks + late, shape, 0.0)
        noise = rng.gamma(5, 1 / 5, (futures, weeks, options))
        level = self.size * (own * year)[:, None, :]
        return level * shape / (2.5 * self.width) * noise


def invented(
    seed: int = 1,
    *,
    crops: int = 3,
    varieties: int = 5,
    dates: int = 2,
    products: int = 4,
    weeks: int = 16,
    hours: float = 12.0,
    need: float = 12.0,
    probability: float = 0.9,
    **changes: Any,
) -> Invented:
    """Return an invented case; the same seed gives the same."""
    rng = np.random.default_rng(seed)
    kind = np.repeat(np.arange(varieties), dates)
    crop = kind % crops
    options = varieties * dates
    centre = (rng.uniform(0.2, 0.5, varieties) * weeks)[kind] + np.tile(
        np.arange(dates) * 0.1 * weeks, varieties
    )
    width = rng.uniform(1.2, 3.0, varieties)[kind]
    kitchen = KitchenYear(
        crops=tuple(f"crop {c}" for c in range(crops)),
        eat=np.full(crops, 1.5),
        most=np.full(crops, 2.5),
        give=np.full(crops, 0.8),
        keep_weeks=rng.integers(0, 3, crops),
        products=tuple(f"product {p}" for p in range(products)),
        labels=tuple(f"product {p}" for p in range(products)),
        need=np.full(products, need),
        method_product=np.arange(products),
        method_crop=np.arange(products) % crops,
        jars_per_kg=rng.uniform(1.0, 2.0, products),
        hours_per_kg=rng.uniform(0.15, 0.4, products),
        equipment_h_per_kg=np.full(products, 0.2),
        freezer_l_per_kg=np.where(np.arange(products) % 2, 1.0, 0.0),
        equipment=np.where(np.arange(products) % 2, -1, 0),
        fresh_only=np.arange(products) % 3 == 0,
        usable=np.where(np.arange(products) % 3 == 0, 0.8, 1.0),
        hours=np.full(weeks, hours),
        kinds=("canner",),
        equipment_h=np.full((1, weeks), 20.0),
        freezer_l=60.0,
    )
    area = rng.uniform(0.2, 0.9, varieties)[kind]
    choices = Choices(
        crop=crop,
        area_m2=area,
        price=area,
        stands=np.ones((options, 20)),
        low=np.zeros(options),
        high=np.full(options, 60.0),
        step=np.ones(options),
        bed_m2=float("inf"),
        group=kind,
        group_high=np.full(varieties, np.inf),
    )
    in_season = np.zeros((weeks, crops), bool)
    in_season[weeks // 4 : weeks // 2 + 1] = True
    goals = Goals(
        probability=probability,
        fresh_kg=np.full(crops, 0.75 * 1.5 * in_season[:, 0].sum()),
        fresh_weeks=in_season,
        jar=jar_points(probability, 1.0, 1.5, kitchen),
        eaten=eaten_points(2.0, kitchen.eat, probability, 1.0),
        glut_price=1.0,
        hour_price=1.5,
        row_price=0.3,
    )
    return Invented(
        kitchen=replace(kitchen, **changes),
        choices=choices,
        goals=goals,
        centre=centre,
        width=width,
        size=rng.lognormal(0.8, 0.4, varieties)[kind],
    )
