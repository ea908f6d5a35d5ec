"""The week's programme: what to put up on which day, decided for many possible futures at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from harvestcast import frames
from harvestcast.kitchen.bottlenecks import bottlenecks_of
from harvestcast.kitchen.capacity import capacity_of
from harvestcast.kitchen.cautions import cautions
from harvestcast.kitchen.changes import changed_garden
from harvestcast.kitchen.demand import fresh_use, wanted_jars
from harvestcast.kitchen.inputs import ProgrammeInputs, programme_inputs
from harvestcast.kitchen.on_hand import on_hand, oversize_share
from harvestcast.kitchen.options import weekly_options
from harvestcast.kitchen.recover import flows
from harvestcast.kitchen.shopping import shopping_list
from harvestcast.kitchen.solver import Solution, solve_programme
from harvestcast.kitchen.surplus import surplus_of

if TYPE_CHECKING:
    from harvestcast.growth.outlook import Outlook
    from harvestcast.records.garden import Garden

FloatArray = npt.NDArray[np.float64]

DECIDED = 3
"""Days whose batches are whole and decided now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveReport:
    """How the programme was solved.

    Parameters
    ----------
    status : str
        ``OPTIMAL`` (proved within the gap asked for) or ``FEASIBLE_AT_LIMIT``.
    gap : float
        Share of the plan's worth by which it could still be better at most.
    seconds : float
        Time taken.
    objective, bound : float
        Expected cost in points, and the least it could be.
    worth : float
        Points by which the plan beats putting up nothing.
    scenarios : int
        Futures planned for.
    message : str
        In plain words.
    """

    status: str
    gap: float
    seconds: float
    objective: float
    bound: float
    worth: float
    scenarios: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KitchenPlan:
    """A week's plan; every table is given out as a copy.

    ``batches``, ``balance``, ``surplus``, ``shopping``, ``bottlenecks`` are the tables of that
    name in :mod:`harvestcast.frames`; ``cautions`` the safety cautions that apply.
    """

    solve: SolveReport
    _batches: pd.DataFrame
    _balance: pd.DataFrame
    _surplus: pd.DataFrame
    _shopping: pd.DataFrame
    _bottlenecks: pd.DataFrame
    _cautions: pd.DataFrame

    @property
    def batches(self) -> pd.DataFrame:
        """What to put up on which day (:data:`harvestcast.frames.BATCHES`)."""
        return self._batches.copy()

    @property
    def balance(self) -> pd.DataFrame:
        """What becomes of the fruit, day by day (:data:`harvestcast.frames.BALANCE`)."""
        return self._balance.copy()

    @property
    def surplus(self) -> pd.DataFrame:
        """What the kitchen cannot take (:data:`harvestcast.frames.SURPLUS`)."""
        return self._surplus.copy()

    @property
    def shopping(self) -> pd.DataFrame:
        """What to buy for the batches (:data:`harvestcast.frames.SHOPPING`)."""
        return self._shopping.copy()

    @property
    def bottlenecks(self) -> pd.DataFrame:
        """What one more of each resource would save (:data:`harvestcast.frames.BOTTLENECKS`)."""
        return self._bottlenecks.copy()

    @property
    def cautions(self) -> pd.DataFrame:
        """Safety cautions for the planned work."""
        return self._cautions.copy()


def plan_week(
    outlook: Outlook,
    garden: Garden,
    *,
    days: int = 10,
    scenarios: int = 30,
    change: Mapping[str, Any] | None = None,
    seed: int = 1,
    time_limit_s: float = 30.0,
) -> KitchenPlan:
    """Plan what to put up in the coming days.

    Whole batches of the first three days are chosen once for many drawn futures; later days are
    an outlook, to be planned again when they come.

    Parameters
    ----------
    outlook : Outlook
        Forecast; its draws are the futures.
    garden : Garden
        Log and settings.
    days : int
        Days to plan, at most those of the forecast.
    scenarios : int
        Futures to plan for.
    change : mapping, optional
        Settings to try instead (:func:`harvestcast.kitchen.changes.changed_garden`).
    seed : int
        Which of the outlook's draws are taken.
    time_limit_s : float
        Seconds the solver may take.

    Returns
    -------
    KitchenPlan

    Raises
    ------
    ElevationError
        Where the household has a canner and garden.toml no elevation.
    InputError
        Where a target names no product on record.
    InfeasiblePlanError
        Where limits contradict each other.

    Examples
    --------
    >>> import harvestcast as hc                                    # doctest: +SKIP
    >>> plan = hc.plan_week(outlook, garden, change={"more_hours": {"saturday": -2}})
    ...                                                             # doctest: +SKIP
    """
    garden = changed_garden(garden, change)
    horizon = min(days, len(outlook.dates))
    inputs = gather(outlook, garden, days=horizon, scenarios=scenarios, seed=seed)
    solution = solve_programme(inputs, time_limit_s=time_limit_s)
    long = gather(
        outlook, garden, days=7 * outlook.weeks, scenarios=2 * scenarios, seed=seed, decided=0
    )
    batches = _batches(solution)
    return KitchenPlan(
        solve=SolveReport(
            status=solution.status,
            gap=solution.gap,
            seconds=solution.seconds,
            objective=solution.cost,
            bound=solution.bound,
            worth=solution.worth,
            scenarios=inputs.draws,
            message=solution.message,
        ),
        _batches=batches,
        _balance=_balance(solution),
        _surplus=surplus_of(long, weeks=outlook.weeks, decided=solution),
        _shopping=shopping_list(batches, garden, options=inputs.options),
        _bottlenecks=bottlenecks_of(solution),
        _cautions=cautions(batches, garden.household),
    )


def gather(
    outlook: Outlook,
    garden: Garden,
    *,
    days: int,
    scenarios: int,
    seed: int,
    decided: int = DECIDED,
) -> ProgrammeInputs:
    """Bring together what the programme needs from the forecast and the household."""
    crops = sorted({crop for crop, _ in outlook.keys})
    total = outlook.mass_kg.shape[0]
    rng = np.random.default_rng(seed)
    take = np.sort(rng.permutation(total)[: min(scenarios, total)])
    picked: dict[tuple[str, str], FloatArray] = {}
    for crop in crops:
        mine = [i for i, (name, _) in enumerate(outlook.keys) if name == crop]
        kg = outlook.mass_kg[take][:, :days][:, :, mine].sum(axis=2)
        share = oversize_share(garden, crop, outlook.as_of)
        picked[crop, "good"] = (1.0 - share) * kg
        if share > 0:
            picked[crop, "oversize"] = share * kg
    fresh = fresh_use(garden, crops)
    return programme_inputs(
        options=weekly_options(garden, outlook.as_of),
        fresh=fresh,
        wanted=wanted_jars(garden, outlook.as_of),
        capacity=capacity_of(garden.household, outlook.dates[0], days),
        choices=garden.household.choices,
        on_hand=on_hand(garden, fresh, outlook.as_of),
        picked=picked,
        decided=decided,
    )


def _batches(solution: Solution) -> pd.DataFrame:
    inputs, block = solution.inputs, solution.block
    rows = []
    for t, (first, _) in enumerate(inputs.spans):
        day = inputs.capacity.start + pd.Timedelta(days=first)
        decided = t < inputs.decided
        for m, option in enumerate(inputs.options.to_dict("records")):
            columns = block.put_up[t, m]
            kg = float(inputs.weights @ solution.columns[:, columns[columns >= 0]].sum(axis=1))
            share = kg / option["kg_per_batch"]
            number = float(solution.batches[t, m]) if decided else share
            # A quarter of a batch in the mean is the least that is worth an outlook.
            if number < (0.5 if decided else 0.25):
                continue
            rows.append(
                {
                    **{k: option[k] for k in ("crop", "product", "label", "method", "jar")},
                    "day": day,
                    "batches": number,
                    "mass_kg": kg,
                    "jars": share * option["jars_per_batch"],
                    "hands_on_h": number * option["hands_on_h"],
                    "equipment": option["equipment"],
                    "equipment_h": number * option["equipment_h"],
                    **{k: option[k] for k in ("process_min", "pressure_psi", "headspace_in")},
                    "best_by": day + pd.Timedelta(days=round(option["best_by_days"])),
                    "decided": decided,
                    "source": option["source"],
                }
            )
    if not rows:
        return frames.BATCHES.empty()
    return frames.check_frame(pd.DataFrame(rows), frames.BATCHES)


def _balance(solution: Solution) -> pd.DataFrame:
    inputs, flow = solution.inputs, flows(solution)
    days, crops = inputs.days, len(inputs.crops)
    table: dict[str, Any] = {
        "day": np.repeat(inputs.capacity.dates.to_numpy(), crops),
        "crop": np.tile(list(inputs.crops), days),
    }
    for name in ("carried_in", "picked", "eaten", "put_up", "given", "spoiled", "carried_out"):
        mean = np.einsum("s,sdc->dc", inputs.weights, getattr(flow, name))
        table[name] = np.where(np.abs(mean) < 1e-9, 0.0, mean).ravel()
    return frames.check_frame(pd.DataFrame(table), frames.BALANCE)
