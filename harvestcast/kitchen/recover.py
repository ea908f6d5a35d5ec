"""Who used which day's fruit: read the days of a solved programme back out of its totals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from harvestcast.kitchen.solver import Solution

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flows:
    """What happened to the fruit of every crop, kg, each of shape (draws, days, crops).

    Parameters
    ----------
    picked, eaten, put_up, given, spoiled : numpy.ndarray
        On that day.
    carried_in, carried_out : numpy.ndarray
        Lying there in the morning and in the evening.
    """

    picked: FloatArray
    eaten: FloatArray
    put_up: FloatArray
    given: FloatArray
    spoiled: FloatArray
    carried_in: FloatArray
    carried_out: FloatArray


def flows(solution: Solution) -> Flows:
    """Recover each day's flows from a solved programme.

    Days are worked through with the oldest fruit first: fruit of each ready day goes to the
    earliest use that accepts it, which serves every use in full whenever that is possible
    (uses accept unbroken runs of days). Fruit that no use took spoils on the day after the last
    on which it keeps; what would keep longer but is not carried on spoils on the last day.

    Parameters
    ----------
    solution : Solution
        A solved programme.

    Returns
    -------
    Flows
    """
    inputs, block = solution.inputs, solution.block
    draws, days, crops = inputs.draws, inputs.days, len(inputs.crops)
    kinds = _kinds(solution)
    ready, _ = inputs.ready()
    out = {name: np.zeros((draws, days, crops)) for name in ("eaten", "put_up", "given", "spoiled")}
    # Carrying on past the plan's last day is a use on the day after it.
    begins = np.array([first for first, _ in inputs.spans] + [days], dtype=int)
    ends = np.array([last for _, last in inputs.spans] + [days], dtype=int)
    for lane, crop in enumerate(inputs.lane_crop):
        mine = np.flatnonzero(block.lane == lane)
        mine = mine[np.lexsort((block.column[mine], ends[block.span[mine]]))]
        left = solution.columns[:, block.column[mine]].copy()
        for slot in range(inputs.back + days):
            rest = ready[:, lane, slot].copy()
            for place, use in enumerate(mine):
                span = block.span[use]
                if not block.first[use] <= slot <= inputs.back + ends[span]:
                    continue
                taken = np.minimum(rest, left[:, place])
                rest -= taken
                left[:, place] -= taken
                if span < len(inputs.spans):
                    day = max(int(begins[span]), slot - inputs.back)
                    out[kinds[int(block.column[use])]][:, day, crop] += taken
            gone = slot - inputs.back + int(inputs.keep[crop]) + 1
            out["spoiled"][:, int(np.clip(gone, 0, days - 1)), crop] += rest
    picked = np.zeros((draws, days, crops))
    before = np.zeros((draws, crops))
    for lane, crop in enumerate(inputs.lane_crop):
        picked[:, :, crop] += inputs.picked[:, :, lane]
        before[:, crop] += inputs.stock[lane].sum()
    change = picked - out["eaten"] - out["put_up"] - out["given"] - out["spoiled"]
    carried_out = before[:, None, :] + change.cumsum(axis=1)
    carried_in = np.concatenate([before[:, None, :], carried_out[:, :-1]], axis=1)
    return Flows(picked=picked, carried_in=carried_in, carried_out=carried_out, **out)


def _kinds(solution: Solution) -> dict[int, str]:
    block = solution.block
    return {
        int(column): name
        for name, columns in (
            ("eaten", block.eat),
            ("put_up", block.put_up),
            ("given", block.give),
            ("given", block.animals),
        )
        for column in columns.ravel()
        if column >= 0
    }
