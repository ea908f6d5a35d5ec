"""The week's programme written down a second time, in the plainest way: who used which fruit.

One variable for every kilogram that goes from a pick day to a use, no chains, no interval rows,
no spans. It is slow and only for tests: what it finds is what the programme must find. It takes
the prices from the library (they are settings) and everything else from the inputs.
"""

import warnings
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pulp
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.kitchen.household.capacity import JAR_SIZES, dryer_day, hours_per_piece
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.solve.inputs import ProgrammeInputs

FloatArray = npt.NDArray[np.float64]
Terms = dict[int, float]


@dataclass(slots=True)
class Arcs:
    """Columns and rows as they are written down; every row reads "at most" or "exactly"."""

    cost: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[Terms, float, bool]] = field(default_factory=list)
    constant: float = 0.0
    batches: dict[tuple[int, int], int] = field(default_factory=dict)

    def column(self, cost: float, whole: bool = False) -> int:
        self.cost.append(cost)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def at_most(self, terms: Terms, limit: float) -> None:
        self.rows.append((terms, limit, False))

    def exactly(self, terms: Terms, value: float) -> None:
        self.rows.append((terms, value, True))

    def arrays(self) -> tuple[sparse.csr_array, FloatArray, FloatArray]:
        entries = [(i, c, v) for i, (terms, _, _) in enumerate(self.rows) for c, v in terms.items()]
        i, c, v = (np.array(part) for part in zip(*entries, strict=True))
        shape = (len(self.rows), len(self.cost))
        limit = np.array([one for _, one, _ in self.rows])
        low = np.array([one if equal else -np.inf for _, one, equal in self.rows])
        return sparse.csr_array((v, (i, c)), shape=shape), low, limit


def add(terms: Terms, column: int, value: float) -> None:
    terms[column] = terms.get(column, 0.0) + value


def arc_programme(inputs: ProgrammeInputs) -> Arcs:
    """Write the programme down, arc by arc."""
    arcs = Arcs()
    options = inputs.options.to_dict("records")
    fresh = inputs.fresh.to_dict("records")
    choices, capacity, _days = inputs.choices, inputs.capacity, inputs.days
    risk, decided = choices.dislike_of_bad_weeks, inputs.decided
    for t in range(decided):
        for m, option in enumerate(options):
            cost = choices.hour * option["hands_on_h"]
            arcs.batches[t, m] = arcs.column(cost, whole=True)
    buy = {
        name: arcs.column(choices.bought_jar if name in JAR_SIZES else choices.bought_lid)
        for name in (*JAR_SIZES, "lids", "freezer_bags")
    }
    if choices.most_purchase is not None:
        arcs.at_most(dict.fromkeys(buy.values(), 1.0), choices.most_purchase)
    over_decided = [arcs.column(0.0) for _ in range(decided)]
    eta = arcs.column(risk * choices.spoiled_kg)
    worth = prices.jars_worth(inputs)
    for s in range(inputs.draws):
        _one_draw(inputs, arcs, s, options, fresh, buy, over_decided, eta, worth)
    for one in inputs.must:
        m = [str(option["option"]) for option in options].index(one.option)
        arcs.at_most({arcs.batches[one.day, m]: -1.0}, -float(one.batches))
    for t in range(decided):
        terms = {arcs.batches[t, m]: option["hands_on_h"] for m, option in enumerate(options)}
        arcs.at_most(terms, float(capacity.hours[t]))
        for kind in ("boiling_water_canner", "pressure_canner"):
            busy = {
                arcs.batches[t, m]: option["equipment_h"]
                for m, option in enumerate(options)
                if option["equipment"] == kind
            }
            arcs.at_most(busy, capacity.number_of(kind) * hours_per_piece(kind))
    return arcs


def _one_draw(inputs, arcs, s, options, fresh, buy, over_decided, eta, worth):
    choices, days, decided = inputs.choices, inputs.days, inputs.decided
    weight, risk = float(inputs.weights[s]), choices.dislike_of_bad_weeks
    spoil = choices.spoiled_kg
    by_day = inputs.by_pick_day()[s]  # lanes x (back + days)
    put_up: dict[tuple[int, int], Terms] = {}
    use_limit: dict[tuple[str, int, int], Terms] = {}
    leaving: dict[tuple[int, int], Terms] = {}  # lane, day: what leaves on that day
    carried: dict[int, Terms] = {}
    kept: Terms = {}  # every kg that does not spoil
    supply = 0.0
    carry_price = prices.carry_price(inputs)
    for lane, c in enumerate(inputs.lane_crop):
        row, big = fresh[c], bool(inputs.lane_oversize[lane])
        keep, ripen = int(inputs.keep[c]), int(inputs.ripen[c])
        for slot in range(by_day.shape[1]):
            kg, picked = float(by_day[lane, slot]), slot - inputs.back
            ripe = picked + ripen
            if kg <= 0:
                continue
            if ripe >= days:  # unripe at the end: neither used nor spoiled
                continue
            supply += kg
            out: Terms = {}

            def arc(cost: float, *to: Terms, out=out) -> None:
                column = arcs.column(weight * (cost - spoil * (1 - risk)))
                add(out, column, 1.0)
                add(kept, column, 1.0)
                for terms in to:
                    add(terms, column, 1.0)

            for t in range(max(ripe, 0), min(ripe + keep, days - 1) + 1):
                gone = leaving.setdefault((lane, t), {})
                for m, option in enumerate(options):
                    if option["crop"] != inputs.crops[c] or t - ripe > option["max_age_days"]:
                        continue
                    if big and not option["takes_oversize"]:
                        continue
                    hours = choices.hour * option["hands_on_h"] / option["kg_per_batch"]
                    arc(0.0 if t < decided else hours, put_up.setdefault((t, m), {}), gone)
                worth_kg = choices.fresh_kg
                if not big:
                    arc(-worth_kg, use_limit.setdefault(("eat", t, c), {}), gone)
                    arc(-prices.GIVEN_SHARE * worth_kg, use_limit.setdefault(("give", t, c), {}),
                        gone)  # fmt: skip
                grade = "big" if big else "good"
                arc(-prices.CEILING_SHARE * worth_kg,
                    use_limit.setdefault(("more", t, c), {}), gone)  # fmt: skip
                arc(prices.ANIMALS_SHARE * spoil,
                    use_limit.setdefault((f"feed {grade}", t, c), {}), gone)  # fmt: skip
            if ripe + keep >= days:
                arc(carry_price[c], carried.setdefault(lane, {}))
            arcs.at_most(out, kg)
    arcs.constant += weight * spoil * (1 - risk) * supply
    for (kind, _, c), terms in use_limit.items():
        row = fresh[c]
        more = max(0.0, row["eat_at_most_kg_day"] - row["eat_kg_day"])
        limit = {"eat": row["eat_kg_day"], "give": row["give_kg_day"]}.get(
            kind, more if kind == "more" else row["animals_kg_day"]
        )
        arcs.at_most(terms, limit)
    _rooms(inputs, arcs, s, leaving, carried)
    _limits_of_draw(inputs, arcs, put_up, options, buy, over_decided)
    beyond: dict[str, list[int]] = {}
    for number, product in enumerate(worth.products):
        pints: Terms = {}
        for points, room in zip(worth.points[number], worth.room[number], strict=True):
            column = arcs.column(-weight * points)
            pints[column] = 1.0
            if len(pints) > len(prices.TIERS):
                beyond.setdefault(product, []).append(column)
            if np.isfinite(room):
                arcs.at_most({column: 1.0}, float(room))
        for (_, m), terms in put_up.items():
            if options[m]["product"] == product:
                rate = options[m]["jars_per_batch"] * options[m]["pint_jars_per_jar"]
                for column, value in terms.items():
                    add(pints, column, -value * rate / options[m]["kg_per_batch"])
        arcs.exactly(pints, 0.0)
    _kept_free(inputs, arcs, worth, beyond, buy)
    if risk > 0:
        worst = arcs.column(weight * risk * spoil / prices.WORST_SHARE)
        terms = dict.fromkeys(kept, -1.0) | {worst: -1.0, eta: -1.0}
        arcs.at_most(terms, -supply)


def _takes(option, name):
    """What a batch takes of a store; of all jars together, by the pints they hold."""
    in_jars = option["jar"] in JAR_SIZES
    return {
        "jars": option["jars_per_batch"] * option["pint_jars_per_jar"] if in_jars else 0.0,
        "lids": option["lids_per_batch"],
        "freezer_l": option["freezer_l_per_batch"],
        "freezer_bags": option["jars_per_batch"] if "bag" in option["jar"] else 0.0,
    }.get(name, option["jars_per_batch"] if option["jar"] == name else 0.0)


def _kept_free(inputs, arcs, worth, beyond, buy):
    """Jars beyond the targets leave what the targets still to come need."""
    options = inputs.options.to_dict("records")
    holds = {"half_pint": 0.5, "pint": 1.0, "quart": 2.0}
    for name in ("jars", "lids", "freezer_bags", "freezer_l"):
        if name == "jars":
            stock = sum(inputs.capacity.store(size) * pints for size, pints in holds.items())
        else:
            stock = inputs.capacity.store(name)
        if np.isnan(stock):
            continue
        terms, wanted_kg, wants = {}, {}, []
        for number, product in enumerate(worth.products):
            own = [o for o in options if o["product"] == product]
            pints = [o["jars_per_batch"] * o["pint_jars_per_jar"] for o in own]
            least = min(_takes(o, name) / p for o, p in zip(own, pints, strict=True))
            kg = min(o["kg_per_batch"] / p for o, p in zip(own, pints, strict=True))
            missing = sum(worth.room[number][: len(prices.TIERS)])
            crop = own[0]["crop"]
            wanted_kg[crop] = wanted_kg.get(crop, 0.0) + missing * kg
            wants.append((crop, missing * least))
            terms |= dict.fromkeys(beyond[product], least)
        kept = sum(
            amount * min(1.0, inputs.to_come.get(crop, 0.0) / wanted_kg[crop])
            for crop, amount in wants if amount > 0
        )  # fmt: skip
        sources = {
            "jars": holds, "lids": dict.fromkeys(("lids", *JAR_SIZES), 1.0), "freezer_l": {},
        }.get(name, {name: 1.0})  # fmt: skip
        for source, each in sources.items():
            add(terms, buy[source], -each)
        arcs.at_most(terms, max(0.0, stock - kept))


def _rooms(inputs, arcs, s, leaving, carried):
    """Room overnight: what lies there is counted pick by pick; anything may be thrown out."""
    by_day = inputs.by_pick_day()[s]
    for place in ("refrigerator", "cool_store"):
        litres = inputs.capacity.store(f"{place}_l")
        if np.isnan(litres):
            continue
        here = [
            lane
            for lane, c in enumerate(inputs.lane_crop)
            if inputs.fresh["place"].iloc[c] == place
        ]
        nights: list[Terms] = [{} for _ in range(inputs.days)]
        for lane in here:
            c = inputs.lane_crop[lane]
            before, arrived = None, 0.0
            for t in range(inputs.days):
                lying, thrown = arcs.column(0.0), arcs.column(0.0)
                # Fruit ripens elsewhere: it takes room from the day it is ready.
                ready = by_day[lane, : max(0, inputs.back + t + 1 - int(inputs.ripen[c]))].sum()
                came, arrived = float(ready) - arrived, float(ready)
                terms = {lying: 1.0, thrown: 1.0, **leaving.get((lane, t), {})}
                if before is not None:
                    terms[before] = -1.0
                arcs.exactly(terms, came)
                nights[t][lying] = float(inputs.fresh["litres_per_kg"].iloc[c])
                before = lying
            arcs.at_most({**carried.get(lane, {}), before: -1.0}, 0.0)
        for terms in nights:
            arcs.at_most(terms, litres)


def _limits_of_draw(inputs, arcs, put_up, options, buy, over_decided):
    capacity, days, decided = inputs.capacity, inputs.days, inputs.decided
    for t in range(decided):
        for m, option in enumerate(options):
            terms = dict(put_up.get((t, m), {}))
            terms[arcs.batches[t, m]] = -option["kg_per_batch"]
            arcs.at_most(terms, 0.0)

    def loads(t: int, amount: dict[int, float]) -> Terms:
        """Terms of an amount per batch on one day."""
        terms: Terms = {}
        for m, value in amount.items():
            if t < decided:
                add(terms, arcs.batches[t, m], value)
            else:
                for column, one in put_up.get((t, m), {}).items():
                    add(terms, column, one * value / options[m]["kg_per_batch"])
        return terms

    for t in range(decided, days):
        arcs.at_most(
            loads(t, {m: o["hands_on_h"] for m, o in enumerate(options)}), float(capacity.hours[t])
        )
        for kind in ("boiling_water_canner", "pressure_canner"):
            busy = {m: o["equipment_h"] for m, o in enumerate(options) if o["equipment"] == kind}
            arcs.at_most(loads(t, busy), capacity.number_of(kind) * hours_per_piece(kind))
    drying = {m: o["equipment_h"] for m, o in enumerate(options) if o["equipment"] == "dryer"}
    if drying:
        hours, past = dryer_day(max(drying.values()))
        over = [over_decided[t] if t < decided else arcs.column(0.0) for t in range(days)]
        for t in range(days):
            terms = loads(t, drying)
            add(terms, over[t], -1.0)
            if t > 0:
                add(terms, over[t - 1], 1.0)
            arcs.at_most(terms, capacity.number_of("dryer") * hours)
            arcs.at_most({over[t]: 1.0}, capacity.number_of("dryer") * past)
    crocks = {m: int(np.ceil(o["equipment_h"] / 24)) for m, o in enumerate(options)
              if o["equipment"] == "crock"}  # fmt: skip
    for t in range(days):
        standing: Terms = {}
        for m, lasts in crocks.items():
            for begun in range(max(0, t - lasts + 1), t + 1):
                for column, value in loads(begun, {m: 1.0}).items():
                    add(standing, column, value)
        if standing:
            arcs.at_most(standing, capacity.number_of("crock"))
    for name in (*buy, "freezer_l"):
        limit = capacity.store(name)
        if np.isnan(limit):
            continue
        terms: Terms = {}
        for (_, m), used in put_up.items():
            o = options[m]
            per_batch = _takes(o, name)
            for column, value in used.items():
                add(terms, column, value * per_batch / o["kg_per_batch"])
        sources = {"lids": ("lids", *JAR_SIZES), "freezer_l": ()}.get(name, (name,))
        for source in sources:
            add(terms, buy[source], -1.0)
        arcs.at_most(terms, limit)


def solve_arcs(
    arcs: Arcs, *, held: dict[tuple[int, int], int] | None = None, whole: bool = True
) -> float:
    """Return the least cost (HiGHS), with some batches held; infinite where there is no plan."""
    matrix, low, limit = arcs.arrays()
    bottom, top = np.zeros(len(arcs.cost)), np.full(len(arcs.cost), np.inf)
    for key, number in (held or {}).items():
        bottom[arcs.batches[key]] = top[arcs.batches[key]] = number
    result = milp(
        np.array(arcs.cost),
        integrality=np.array(arcs.whole) if whole else None,
        bounds=Bounds(bottom, top),
        constraints=LinearConstraint(matrix, low, limit),
        options={"mip_rel_gap": 0.0},
    )
    return float("inf") if result.x is None else float(result.fun) + arcs.constant


def solve_with_cbc(arcs: Arcs, gap: float) -> tuple[float, str]:
    """Return the least cost found by CBC (through pulp) and its status."""
    problem = pulp.LpProblem("week", pulp.LpMinimize)
    with warnings.catch_warnings():
        # PuLP 3.3 announces names that PuLP 2.8, the oldest version allowed, does not have.
        warnings.simplefilter("ignore", DeprecationWarning)
        columns = [
            pulp.LpVariable(f"c{i}", 0, None, "Integer" if whole else "Continuous")
            for i, whole in enumerate(arcs.whole)
        ]
        problem += pulp.LpAffineExpression(list(zip(columns, arcs.cost, strict=True)))
        for terms, limit, equal in arcs.rows:
            side = pulp.LpAffineExpression([(columns[c], v) for c, v in terms.items()])
            problem += (side == limit) if equal else (side <= limit)
        problem.solve(pulp.PULP_CBC_CMD(msg=False, gapRel=gap, timeLimit=300))
    return float(pulp.value(problem.objective)) + arcs.constant, pulp.LpStatus[problem.status]
