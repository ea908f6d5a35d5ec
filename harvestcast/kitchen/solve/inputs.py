"""What the week's programme is told: tables and arrays, checked and sorted.

Fruit of one crop and grade is a *lane*. Oversize fruit has a lane of its own, because only some
products take it. Days are counted from the first day of the plan; fruit is placed on the day on
which it can first be used (its pick day plus the days it ripens), so fruit on hand stands on
days before 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array, Flags, Index
from harvestcast.errors import FrameError
from harvestcast.kitchen.household.capacity import Capacity, jar_store
from harvestcast.records.household import Choices

ON_HAND = frames.FrameSpec(
    "on hand",
    (
        frames.Column("date", "date", "day of the pick"),
        frames.Column("crop", "text", "crop, canonical lower-case name"),
        frames.Column("grade", "text", "grade", one_of=("good", "oversize")),
        frames.Column("mass_kg", "number", "mass still lying there", "kg", low=0),
    ),
    key=("date", "crop", "grade"),
)
"""Fruit on hand on the evening before the plan, by the day of its pick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MustDo:
    """Batches that are to be done whatever they cost: a day, an option and how many."""

    day: int
    option: str
    batches: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProgrammeInputs:
    """Everything the programme needs; made by :func:`programme_inputs`.

    Parameters
    ----------
    options, fresh, wanted : pandas.DataFrame
        Tables OPTIONS, FRESH and WANTED, sorted by key. Options of crops without any fruit are
        left out.
    capacity : Capacity
        Hours, equipment, jars and room, one entry a day of the plan.
    choices : Choices
        Prices and values in points.
    crops : tuple of str
        Crops with a place in the plan, sorted.
    lane_crop : numpy.ndarray
        Crop (number) of each lane, shape (lanes,).
    lane_oversize : numpy.ndarray
        Whether the lane is oversize fruit, shape (lanes,).
    keep, ripen : numpy.ndarray
        Whole days a crop keeps once ripe, and days it ripens before that, shape (crops,).
    stock : numpy.ndarray
        Fruit on hand by pick day before the plan, kg, shape (lanes, back); column ``back - 1``
        was picked the day before the plan.
    picked : numpy.ndarray
        Picks to come, kg, shape (draws, days, lanes).
    weights : numpy.ndarray
        Probability of each draw, shape (draws,), sum 1.
    decided : int
        Days whose batches are whole and decided now.
    must : tuple of MustDo
        Batches that must be done.
    spans : tuple of (int, int)
        First and last day of each span of the programme. Decided days are spans of their own;
        later days may be taken together, which pools their hours and lets fruit that becomes
        ready within a span be used anywhere in it.
    to_come : mapping of str to float
        What may still come in of each crop beyond today, kg: for so much of what is wanted of it
        jars, lids and freezer are kept free. A crop without an entry is over.
    """

    options: pd.DataFrame
    fresh: pd.DataFrame
    wanted: pd.DataFrame
    capacity: Capacity
    choices: Choices
    crops: tuple[str, ...]
    lane_crop: Index
    lane_oversize: Flags
    keep: Index
    ripen: Index
    stock: Array
    picked: Array
    weights: Array
    decided: int
    must: tuple[MustDo, ...] = ()
    spans: tuple[tuple[int, int], ...] = ()
    before: Array | None = None
    firm: Flags | None = None
    to_come: Mapping[str, float] = field(default_factory=dict)

    @property
    def days(self) -> int:
        """Number of days of the plan."""
        return int(self.picked.shape[1])

    @property
    def length(self) -> Array:
        """Days in each span, shape (spans,)."""
        return np.array([last - first + 1.0 for first, last in self.spans])

    @property
    def draws(self) -> int:
        """Number of draws."""
        return int(self.picked.shape[0])

    @property
    def lanes(self) -> int:
        """Number of lanes: crops and grades."""
        return len(self.lane_crop)

    def lane_of(self, crop: int, oversize: bool) -> int | None:
        """Return the lane of a crop (number) and grade; None where there is none."""
        found = np.flatnonzero((self.lane_crop == crop) & (self.lane_oversize == oversize))
        return int(found[0]) if found.size else None

    @property
    def back(self) -> int:
        """Days before the plan on which fruit on hand can first have been ready."""
        return int(self.stock.shape[1])

    def ready(self) -> tuple[Array, Array]:
        """Return fruit by the day on which it can first be used.

        Returns
        -------
        ready : numpy.ndarray
            kg, shape (draws, lanes, back + days); column ``back`` is the first day of the plan.
        unripe : numpy.ndarray
            kg that ripen only after the plan's last day, shape (draws, lanes).
        """
        slots = self.back + self.days
        ready = np.zeros((self.draws, self.lanes, slots))
        unripe = np.zeros((self.draws, self.lanes))
        by_pick_day = self.by_pick_day()
        for lane, crop in enumerate(self.lane_crop):
            shift = min(int(self.ripen[crop]), slots)
            ready[:, lane, shift:] = by_pick_day[:, lane, : slots - shift]
            unripe[:, lane] = by_pick_day[:, lane, slots - shift :].sum(axis=1)
        return ready, unripe

    def by_pick_day(self) -> Array:
        """Return fruit by pick day, kg, shape (draws, lanes, back + days)."""
        on_hand = np.broadcast_to(self.stock, (self.draws, *self.stock.shape))
        return np.concatenate([on_hand, self.picked.transpose(0, 2, 1)], axis=2)


def programme_inputs(
    *,
    options: pd.DataFrame,
    fresh: pd.DataFrame,
    wanted: pd.DataFrame,
    capacity: Capacity,
    choices: Choices,
    on_hand: pd.DataFrame,
    picked: Mapping[tuple[str, str], Array],
    weights: Array | None = None,
    decided: int = 3,
    must: tuple[MustDo, ...] = (),
) -> ProgrammeInputs:
    """Check, sort and arrange what the programme needs.

    Parameters
    ----------
    options, fresh, wanted, on_hand : pandas.DataFrame
        Tables OPTIONS, FRESH, WANTED and :data:`ON_HAND`. ``fresh`` has every crop that is
        picked or on hand.
    capacity : Capacity
        One entry a day of the plan.
    choices : Choices
        Prices and values in points.
    picked : mapping
        Picks to come, kg, per (crop, grade): shape (draws, days), grade good or oversize.
    weights : numpy.ndarray, optional
        Probability of each draw; left out: equal.
    decided : int
        Days whose batches are whole and decided now, at least 0.
    must : tuple of MustDo
        Batches that must be done.

    Returns
    -------
    ProgrammeInputs
        Sorted, so that the order of the rows given does not matter.

    Raises
    ------
    FrameError
        Where a table breaks its specification or a crop has no row in ``fresh``.
    ValueError
        Where the arrays do not have one shape, hold negative or unknown masses, or weights do
        not sum to 1.
    """
    tables = {
        "options": frames.check_frame(options, frames.OPTIONS).sort_values("option"),
        "fresh": frames.check_frame(fresh, frames.FRESH).sort_values("crop"),
        "wanted": frames.check_frame(wanted, frames.WANTED).sort_values("product"),
    }
    lying = frames.check_frame(on_hand, ON_HAND)
    days = capacity.days
    draws = _check_draws(picked, days)
    share = np.full(draws, 1.0 / draws) if weights is None else np.asarray(weights, float)
    if share.shape != (draws,) or (share < 0).any() or abs(share.sum() - 1) > 1e-9:
        raise ValueError("weights: one a draw, none negative, sum 1")
    crops = tuple(
        sorted(
            {crop for (crop, _), kg in picked.items() if kg.sum() > 0}
            | set(lying.loc[lying["mass_kg"] > 0, "crop"].astype(str))
        )
    )
    strange = sorted(set(crops) - set(tables["fresh"]["crop"]))
    if strange:
        raise FrameError(f"table fresh: no row for {', '.join(strange)}")
    fresh_rows = tables["fresh"].set_index("crop", drop=False).loc[list(crops)]
    keep = np.floor(fresh_rows["keep_days"].to_numpy(float) + 1e-9).astype(np.int64)
    ripen = np.ceil(fresh_rows["ripen_days"].to_numpy(float) - 1e-9).astype(np.int64)
    start = capacity.start
    lying = lying[lying["mass_kg"] > 0]
    age = (start - lying["date"]).dt.days.to_numpy()
    if (age < 1).any():
        raise FrameError("table on hand: a pick dated after the day before the plan")
    limit = pd.Series(keep + ripen, index=list(crops)).loc[lying["crop"].astype(str)].to_numpy()
    # Fruit older than it keeps has spoiled before the plan begins.
    lying, age = lying[age <= limit], age[age <= limit]
    back = int(age.max()) if len(age) else 0
    lanes = [
        (number, oversize)
        for number, crop in enumerate(crops)
        for oversize in (False, True)
        if not oversize or _any_oversize(crop, lying, picked)
    ]
    stock = np.zeros((len(lanes), back))
    arrays = np.zeros((draws, days, len(lanes)))
    for lane, (number, oversize) in enumerate(lanes):
        grade = "oversize" if oversize else "good"
        mine = (lying["crop"] == crops[number]).to_numpy() & (lying["grade"] == grade).to_numpy()
        np.add.at(stock[lane], back - age[mine], lying["mass_kg"].to_numpy(float)[mine])
        if (crops[number], grade) in picked:
            arrays[:, :, lane] = picked[crops[number], grade]
    offered = tables["options"]
    offered = offered[offered["crop"].isin(crops) & (offered["kg_per_batch"] > 0)]
    return ProgrammeInputs(
        options=offered.reset_index(drop=True),
        fresh=fresh_rows.reset_index(drop=True),
        wanted=tables["wanted"].reset_index(drop=True),
        capacity=capacity,
        choices=choices,
        crops=crops,
        lane_crop=np.array([number for number, _ in lanes], dtype=np.int64),
        lane_oversize=np.array([oversize for _, oversize in lanes], dtype=bool),
        keep=keep,
        ripen=ripen,
        stock=stock,
        picked=arrays,
        weights=share,
        decided=min(int(decided), days),
        must=tuple(sorted(must, key=lambda one: (one.day, one.option))),
        spans=tuple((day, day) for day in range(days)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OptionArrays:
    """The options as arrays, one entry an option.

    ``kg``, ``jars``, ``pints``, ``lids``, ``freezer_l``, ``hours`` and ``equipment_h`` are per
    full batch; ``age`` is the
    oldest fruit it may use in whole days; ``crop`` a crop's number; ``oversize`` whether oversize
    fruit may be used; ``loose`` whether it is laid up as it comes, by the kg and not by the batch;
    ``equipment`` and ``store`` are names.
    """

    kg: Array
    jars: Array
    pints: Array
    lids: Array
    freezer_l: Array
    hours: Array
    equipment_h: Array
    age: Index
    crop: Index
    oversize: Flags
    loose: Flags
    equipment: tuple[str, ...]
    store: tuple[str | None, ...]


def option_arrays(inputs: ProgrammeInputs) -> OptionArrays:
    """Return the options of a programme as arrays."""
    table = inputs.options
    crop = np.array([inputs.crops.index(c) for c in table["crop"].astype(str)], dtype=np.int64)
    age = np.floor(table["max_age_days"].to_numpy(float) + 1e-9).astype(np.int64)
    jars = table["jars_per_batch"].to_numpy(float)
    return OptionArrays(
        kg=table["kg_per_batch"].to_numpy(float),
        jars=jars,
        pints=jars * table["pint_jars_per_jar"].to_numpy(float),
        lids=table["lids_per_batch"].to_numpy(float),
        freezer_l=table["freezer_l_per_batch"].to_numpy(float),
        hours=table["hands_on_h"].to_numpy(float),
        equipment_h=table["equipment_h"].to_numpy(float),
        age=np.minimum(age, inputs.keep[crop]),
        crop=crop,
        oversize=table["takes_oversize"].to_numpy(bool),
        loose=(table["method"] == "keeping").to_numpy(bool),
        equipment=tuple(table["equipment"].astype(str)),
        store=tuple(jar_store(jar) for jar in table["jar"]),
    )


def with_spans(inputs: ProgrammeInputs, lengths: Sequence[int] = ()) -> ProgrammeInputs:
    """Take later days together, so that a long plan stays small.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.
    lengths : sequence of int
        Days in each span after the decided days; the last length is repeated. Left out: every
        day by itself.

    Returns
    -------
    ProgrammeInputs

    Examples
    --------
    Ten days, three of them decided, ``lengths=(1, 2)``: spans of 1, 1, 1, 1, 2, 2, 2 days.
    """
    spans = [(day, day) for day in range(inputs.decided)]
    rest = list(lengths) or [1]
    while (first := spans[-1][1] + 1 if spans else 0) < inputs.days:
        size = rest.pop(0) if len(rest) > 1 else rest[0]
        spans.append((first, min(first + size, inputs.days) - 1))
    return replace(inputs, spans=tuple(spans))


def _check_draws(picked: Mapping[tuple[str, str], Array], days: int) -> int:
    shapes = {np.shape(kg) for kg in picked.values()}
    if len(shapes) != 1:
        raise ValueError("picked: at least one crop, and one shape (draws, days) for all")
    (shape,) = shapes
    if len(shape) != 2 or shape[1] != days or shape[0] < 1:
        raise ValueError(f"picked: shape (draws, {days}) expected, got {shape}")
    for (crop, grade), kg in picked.items():
        if not np.isfinite(kg).all() or (kg < 0).any():
            raise ValueError(f"picked: {crop}, {grade}: negative or unknown mass")
    return int(shape[0])


def _any_oversize(crop: str, lying: pd.DataFrame, picked: Mapping[tuple[str, str], Array]) -> bool:
    on_hand = (lying["crop"] == crop) & (lying["grade"] == "oversize")
    coming = picked.get((crop, "oversize"))
    return bool(on_hand.any()) or (coming is not None and bool(coming.sum() > 0))
