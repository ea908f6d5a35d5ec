"""Simulated gardens whose truth is known.

An independent, mechanistic simulator for tests: plants flower and set fruit as heat adds up,
every fruit ripens after its own delay, stays on the plant until someone finds it, grows too big
meanwhile, and a human with habits picks. It shares no code and no formula with the curves of
the library, so that a test on it can fail.

>>> from tests.simulated import simulate_garden
>>> sim = simulate_garden(7, crops=("cucumber", "tomato"), years=(2025,))
>>> sorted(sim.picks["crop"].unique())
['cucumber', 'tomato']
>>> sim.truth.best(2025)["crop"].to_list()
['cucumber', 'tomato']
"""

from tests.simulated.climate import Site, simulate_weather
from tests.simulated.crops import CROPS, CropNature
from tests.simulated.folder import as_garden, weekly_picks, write_folder
from tests.simulated.garden import (
    Habits,
    SimulatedGarden,
    Truth,
    grow_garden,
    next_year,
    random_habits,
    random_plantings,
    random_varieties,
    simulate_garden,
)

__all__ = [
    "CROPS",
    "CropNature",
    "Habits",
    "SimulatedGarden",
    "Site",
    "Truth",
    "as_garden",
    "grow_garden",
    "next_year",
    "random_habits",
    "random_plantings",
    "random_varieties",
    "simulate_garden",
    "simulate_weather",
    "weekly_picks",
    "write_folder",
]
