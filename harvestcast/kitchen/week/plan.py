"""The week's plan: which batches to put up on the next days, and what will follow.

The plan is a two-stage stochastic integer programme. Whole batches of the decided days are
chosen once for many possible futures drawn together for all crops; how full they become, what is
eaten, given away or carried on, and the (part) batches of later days follow in each future. See
:func:`harvestcast.kitchen.solve.solve.solve_programme` for the programme itself.

References
----------
Birge and Louveaux, *Introduction to Stochastic Programming*, 2nd ed., Springer 2011,
doi:10.1007/978-1-4614-0237-4 (two-stage programmes with recourse; from memory).
Rockafellar and Uryasev, Optimization of conditional value-at-risk, *Journal of Risk* 2 (2000),
doi:10.21314/JOR.2000.038 (the dislike of bad weeks; from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Index
from harvestcast.growth.forecast import Outlook
from harvestcast.growth.future.oversize import oversize_kg
from harvestcast.kitchen.household.book import household_on
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, past_best, wanted_jars
from harvestcast.kitchen.household.on_hand import on_hand
from harvestcast.kitchen.household.pantry import unknown_products
from harvestcast.kitchen.household.what_if import changed_household
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import MustDo, ProgrammeInputs, programme_inputs, with_spans
from harvestcast.kitchen.solve.solve import OPTIMAL, Solution, solve_programme
from harvestcast.kitchen.week.balance import account_for, balance_frame
from harvestcast.kitchen.week.bottlenecks import bottleneck_frame
from harvestcast.kitchen.week.cautions import cautions
from harvestcast.kitchen.week.draws import spread_draws
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.reasons import batch_reasons, crop_reasons
from harvestcast.kitchen.week.shopping import shopping_list
from harvestcast.kitchen.week.standing import (
    CHANGED,
    Standing,
    as_decided,
    changes_since,
    hold,
    stood,
)
from harvestcast.kitchen.week.surplus import (
    LATER_SPANS,
    followed_ahead,
    of_own_produce,
    surplus_frame,
    uses_of_surplus,
)
from harvestcast.kitchen.week.work import RANGE, batch_frame
from harvestcast.records.garden import Garden
from harvestcast.results import Result, must_be
from harvestcast.solver import MOST_NODES, Infeasible

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units


DECIDED_DAYS = 3
"""Days whose batches are decided now, as whole batches."""

PLAN_SPANS = (1, 2, 4)
"""Days taken together after the decided days while batches are chosen, and while the programme is
solved again for one unit more of everything (the last is repeated)."""

PLAN_DRAWS = 400
"""Draws of the outlook that plans are made for and followed through."""

EASY_STEPS = 1_500
"""Steps of the solver below which a week is easy, and is solved again for twice the draws: where
little is at stake, few draws say little (tests.benchmarks.programme)."""

SURPLUS_DRAWS = 100
"""Draws of the outlook that the surplus is worked out for."""

BOTTLENECK_DRAWS = 8
"""Draws that bottlenecks are worked out for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveReport:
    """How the plan was found, and how far it can be trusted to be the best.

    Parameters
    ----------
    status : str
        ``OPTIMAL``: proved to be within the gap asked for. ``FEASIBLE_AT_LIMIT``: the best
        found within the work allowed, which is counted and not timed.
    gap : float
        What a better plan could still gain at most, as a share of the plan's worth.
    seconds : float
        Time the solver took; nothing depends on it.
    objective, bound : float
        Expected cost of the plan in points, and the least any plan could cost.
    worth : float
        Points by which the plan beats putting nothing up.
    scenarios : int
        Draws the batches were chosen for.
    nodes, steps : int
        Work done: nodes of the solver's search tree and steps of its simplex method.
    message : str
        The same in words.
    """

    status: str
    gap: float
    seconds: float
    objective: float
    bound: float
    worth: float
    scenarios: int
    nodes: int
    steps: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class KitchenPlan(Result):
    """What to do in the kitchen, and what will follow.

    Parameters
    ----------
    as_of : pandas.Timestamp
        Last day known; the plan begins the day after.
    batches : pandas.DataFrame
        Table BATCHES: whole batches of the decided days, and an outlook for later days.
    balance : pandas.DataFrame
        Table BALANCE, means over draws.
    surplus : pandas.DataFrame
        Table SURPLUS, over all weeks of the outlook.
    shopping : pandas.DataFrame
        Table SHOPPING, for the decided batches.
    bottlenecks : pandas.DataFrame
        Table BOTTLENECKS.
    cautions : pandas.DataFrame
        Safety and practice that go with the batches.
    reasons : pandas.DataFrame
        Columns crop and reason: where the fruit of crops goes whose shelves are full. Each
        batch's own reason stands in ``batches``.
    solve : SolveReport
        Status, gap and seconds.
    hours : pandas.Series
        Hands-on hours the household has, by day. [h]
    changed : pandas.DataFrame
        What was decided before and is no longer so, and why
        (:func:`harvestcast.kitchen.week.standing.stood`).
    uses : pandas.DataFrame
        Why something is left over in the coming week, and a use for each part of it
        (:func:`harvestcast.kitchen.week.surplus.uses_of_surplus`).
    """

    as_of: pd.Timestamp
    batches: pd.DataFrame
    balance: pd.DataFrame
    surplus: pd.DataFrame
    shopping: pd.DataFrame
    bottlenecks: pd.DataFrame
    cautions: pd.DataFrame
    reasons: pd.DataFrame
    solve: SolveReport
    hours: pd.Series
    changed: pd.DataFrame = field(default_factory=pd.DataFrame)
    uses: pd.DataFrame = field(default_factory=pd.DataFrame)

    def _brief(self) -> str:
        decided = int(self.batches["decided"].sum())
        return (
            f"known up to {self.as_of.date()}, {decided} kinds of batches decided, "
            f"{len(self.shopping)} things to buy, {self.solve.status}"
        )

    def _table(self) -> pd.DataFrame:
        batches = self.batches
        columns = ["day", "label", "jar", "batches", "mass_kg", "jars", "hands_on_h"]
        return batches.loc[batches["decided"], columns]

    def plot(self, *, units: Units = "metric", ax: Axes | None = None) -> Axes:
        """Draw the hands-on hours of every day by way of putting up.

        Parameters
        ----------
        units : {"us", "metric"}
            Order of the dates.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes
        """
        from harvestcast import figures

        days = sorted({*self.batches["day"], *self.balance["day"]})
        hours = pd.DataFrame({"day": days, "hours": self.hours.reindex(days).to_numpy(float)})
        drawn = figures.kitchen_days(self.batches, hours, units=units, title="Kitchen hours", ax=ax)
        return figures.in_session(drawn, ax)


def plan_week(
    outlook: Outlook,
    garden: Garden,
    *,
    days: int = 10,
    scenarios: int = 30,
    change: Mapping[str, Any] | None = None,
    standing: Standing | None = None,
    seed: int = 1,
) -> KitchenPlan:
    """Plan what to put up in the coming days.

    Parameters
    ----------
    outlook : Outlook
        The forecast; the plan begins the day after its ``as_of``.
    garden : Garden
        The household's settings, recent picks and pantry book.
    days : int
        Days to plan, at most the days of the outlook.
    scenarios : int
        Draws of the outlook that batches are chosen for; twice as many, and again, while the
        programme stays easy (:data:`EASY_STEPS`).
    change : mapping, optional
        What if: keys of :data:`harvestcast.kitchen.household.what_if.KEYS`, any setting of
        ``garden.toml``, and ``must``: batches to be done whatever they cost, as a list of
        ``{"day": 1, "option": "dill_pickles/pint/boiling_water", "batches": 1}`` (day 1 is the
        first day of the plan).
    standing : Standing, optional
        What was decided on an earlier evening, by ``standing_of`` of
        :mod:`harvestcast.kitchen.week.standing`. It stands where nothing real has changed; what
        does not stand, and why, is said in ``changed``.
    seed : int
        Seed of the choice of draws.

    Returns
    -------
    KitchenPlan

    Raises
    ------
    InfeasiblePlanError
        Where batches that must be done do not fit the household's limits.
    InputError
        Where the change does not do.
    """
    must_be(outlook, Outlook, "plan_week")
    must_be(garden, Garden, "plan_week")
    made = decide_week(
        outlook,
        garden,
        days=days,
        scenarios=scenarios,
        change=change,
        standing=standing,
        seed=seed,
    )
    full, solution, batches, garden = made.full, made.solution, made.batches, made.garden
    some = spread_draws(full.picked, SURPLUS_DRAWS, seed)
    ahead = with_spans(part_of(full, full.days, some), LATER_SPANS)
    leftover, busy = followed_ahead(ahead, solution.shared)
    surplus = surplus_frame(ahead, leftover, outlook.as_of, outlook.weeks)
    few = made.chosen[:: max(1, len(made.chosen) // BOTTLENECK_DRAWS)]
    return KitchenPlan(
        as_of=outlook.as_of,
        batches=batches,
        balance=made.balance,
        surplus=surplus,
        uses=uses_of_surplus(
            ahead,
            leftover,
            busy,
            of_own_produce(weekly_options(garden, outlook.as_of, all_of=_left_of(surplus)), garden),
            garden.household.units,
        ),
        shopping=shopping_list(batches[batches["decided"]], garden, options=full.options),
        bottlenecks=bottleneck_frame(
            solution, with_spans(part_of(full, made.days, few), PLAN_SPANS)
        ),
        cautions=cautions(batches, garden.household),
        reasons=crop_reasons(batches, made.balance, full.wanted, full.options, garden.household),
        solve=_report(solution, made.notes),
        hours=pd.Series(full.capacity.hours, index=full.capacity.dates),
        changed=made.changed,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decided:
    """What is done on which day, before anything is said of it.

    Parameters
    ----------
    garden : Garden
        The garden as it stands this evening, a change made.
    full : ProgrammeInputs
        All days and draws of the outlook.
    days : int
        Days planned.
    chosen : ndarray of int
        Draws that batches were chosen for.
    solution : Solution
        The programme solved.
    batches, balance, changed : pandas.DataFrame
        As in :class:`KitchenPlan`.
    notes : list of str
        What had to be assumed.
    """

    garden: Garden
    full: ProgrammeInputs
    days: int
    chosen: Index
    solution: Solution
    batches: pd.DataFrame
    balance: pd.DataFrame
    changed: pd.DataFrame
    notes: list[str]


def decide_week(
    outlook: Outlook,
    garden: Garden,
    *,
    days: int = 10,
    scenarios: int = 30,
    change: Mapping[str, Any] | None = None,
    standing: Standing | None = None,
    seed: int = 1,
) -> Decided:
    """Decide what to put up in the coming days: :func:`plan_week` without what it says of it.

    Parameters and exceptions are those of :func:`plan_week`.

    Returns
    -------
    Decided
    """
    asked = dict(change or {})
    must = tuple(
        MustDo(day=int(one["day"]) - 1, option=str(one["option"]), batches=int(one["batches"]))
        for one in asked.pop("must", ())
    )
    opened = garden
    home = changed_household(household_on(garden, outlook.as_of), asked)
    garden = replace(garden, household=home)
    notes: list[str] = []
    full = gather_inputs(outlook.first(PLAN_DRAWS), garden, must=must, notes=notes)
    changes = {} if standing is None else changes_since(standing, outlook, opened)
    if standing is not None:
        full = hold(full, standing, changes)
    days = min(int(days), full.days)
    chosen = spread_draws(full.picked[:, :days], scenarios, seed)
    solution = choose_batches(full, days, scenarios, seed)
    followed = follow(part_of(full, days, chosen), solution.shared)
    account = account_for(followed)
    batches = batch_reasons(
        batch_frame(followed, account, solution.batches),
        full.wanted,
        full.options,
        past_best(garden, outlook.as_of),
    )
    changed = pd.DataFrame(columns=CHANGED)
    if standing is not None:
        lifted = full.firm is not None and solution.inputs.firm is None
        batches = as_decided(batches, standing, changes)
        changed = stood(standing, changes, batches, lifted=lifted)
    return Decided(
        garden=garden,
        full=full,
        days=days,
        chosen=chosen,
        solution=solution,
        batches=batches,
        balance=balance_frame(followed, account),
        changed=changed,
        notes=notes,
    )


def _left_of(surplus: pd.DataFrame) -> frozenset[str]:
    """Return the crops of which something is left over in the first week."""
    own = surplus[(surplus["week"] == 1) & (surplus["mean_kg"] > 0)]
    return frozenset(own["crop"].astype(str))


def choose_batches(full: ProgrammeInputs, days: int, scenarios: int, seed: int) -> Solution:
    """Choose the batches of the decided days.

    Parameters
    ----------
    full : ProgrammeInputs
        All days and draws of the outlook.
    days : int
        Days to plan.
    scenarios : int
        Draws the programme is solved for at first.
    seed : int
        Seed of the choice of draws.

    Returns
    -------
    Solution
    """
    while True:
        chosen = spread_draws(full.picked[:, :days], scenarios, seed)
        try:
            solution = solve_programme(with_spans(part_of(full, days, chosen), PLAN_SPANS))
        except Infeasible:
            if full.firm is None:
                raise
            # What stands does not fit together any more: it may change, at its price.
            full = replace(full, firm=None)
            continue
        if solution.steps >= EASY_STEPS or scenarios >= full.draws:
            return solution
        scenarios *= 2


def gather_inputs(
    outlook: Outlook, garden: Garden, *, must: tuple[MustDo, ...] = (), notes: list[str]
) -> ProgrammeInputs:
    """Gather what the programme needs over all days and draws of an outlook.

    Parameters
    ----------
    outlook : Outlook
        The forecast.
    garden : Garden
        Settings (changed already), picks, pantry book.
    must : tuple of MustDo
        Batches that must be done.
    notes : list of str
        Gets a sentence for everything that had to be assumed.

    Returns
    -------
    ProgrammeInputs
        Every day by itself, every draw alike.
    """
    as_of = outlook.as_of
    options = weekly_options(garden, as_of)
    recent = garden.picks
    recent = recent[(recent["date"] <= as_of) & (recent["date"].dt.year >= as_of.year - 1)]
    coming = {crop for crop, _ in outlook.keys}
    crops = tuple(sorted(coming | set(recent["crop"].astype(str))))
    fresh = fresh_use(garden, crops)
    large = oversize_kg(outlook, garden)
    draws, days, _ = outlook.mass_kg.shape
    picked = {}
    for crop in sorted(coming):
        mine = [number for number, key in enumerate(outlook.keys) if key[0] == crop]
        kg = np.nan_to_num(outlook.mass_kg[:, :, mine].sum(axis=2))
        too_big = large[:, :, mine].sum(axis=2)
        picked[crop, "good"] = kg - too_big
        picked[crop, "oversize"] = too_big
    if not picked:
        picked = {("nothing", "good"): np.zeros((draws, days))}
    capacity = capacity_of(garden.household, as_of + pd.Timedelta(days=1), days)
    if capacity.unsaid:
        names = ", ".join(name.removesuffix("_l").replace("_", " ") for name in capacity.unsaid)
        notes.append(f"not said in garden.toml, so not limited: {names}")
    strange = unknown_products(garden)
    if strange:
        notes.append(f"in pantry.csv but not known, so not counted: {', '.join(strange)}")
    lying = on_hand(garden, as_of, fresh)
    season = garden.seasons.of(as_of)
    begun = recent[garden.seasons.of_each(recent["date"]) == season]
    inputs = programme_inputs(
        options=options,
        fresh=fresh,
        wanted=wanted_jars(garden, as_of),
        capacity=capacity,
        choices=garden.household.choices,
        on_hand=lying,
        picked=picked,
        decided=DECIDED_DAYS,
        must=must,
    )
    return replace(inputs, to_come=_to_come(inputs, coming, set(begun["crop"].astype(str))))


def _to_come(inputs: ProgrammeInputs, growing: set[str], begun: set[str]) -> dict[str, float]:
    """Return what may still come in of each crop that grows, kg: no bound before its first pick."""
    found = dict.fromkeys(sorted(growing - begun), np.inf)
    for number, crop in enumerate(inputs.crops):
        if crop in growing & begun:
            mine = inputs.lane_crop == number
            ahead = inputs.picked[:, :, mine].sum(axis=(1, 2)) + inputs.stock[mine].sum()
            found[crop] = float(np.quantile(ahead, RANGE[1]))
    return found


def part_of(inputs: ProgrammeInputs, days: int, draws: Index) -> ProgrammeInputs:
    """Return the programme over the first days and some draws, each as likely as the others."""
    capacity = inputs.capacity
    return with_spans(
        replace(
            inputs,
            picked=inputs.picked[draws][:, :days],
            weights=np.full(len(draws), 1.0 / len(draws)),
            capacity=replace(capacity, hours=capacity.hours[:days]),
            decided=min(inputs.decided, days),
        )
    )


def _report(solution: Solution, notes: list[str]) -> SolveReport:
    proved = solution.status == OPTIMAL
    words = [
        "proved within the gap asked for"
        if proved
        else f"limit of {MOST_NODES} nodes reached before proof"
    ]
    words += notes
    later = [last - first + 1 for first, last in solution.inputs.spans]
    if max(later) > 1:
        words.append("later days were taken together while the batches were chosen")
    return SolveReport(
        status=solution.status,
        gap=solution.gap,
        seconds=solution.seconds,
        objective=solution.cost,
        bound=solution.bound,
        worth=solution.worth,
        scenarios=solution.inputs.draws,
        nodes=solution.nodes,
        steps=solution.steps,
        message="; ".join(words),
    )
