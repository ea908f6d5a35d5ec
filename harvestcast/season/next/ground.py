"""Which bed takes which row of a plan, by room, time and rotation.

Beds are known by their names in the plantings, their size by the most that stood in each at once.
A row may be split over beds, and beds are shared by rows while they stand together. What is least
wanted comes first: no room, then a family that comes back to its bed too soon, then rows in pieces.
A small programme in whole numbers finds the places, by counted steps. Perennials stay where they
stand and take their room. Beds under cover take what grew under cover, and nothing else; what
climbs (a variety whose beds in the log all name a support, :data:`SUPPORTS`) goes to a bed with one
even where its family comes back a year too soon.

Years apart come from the advice of extension services in ``data/planting.csv``
(:func:`harvestcast.season.next.seeds.planting_figures`). What the log does not reach back to
is not known and not held against a bed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Index
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import PLACES
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.season.messages import said
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.programme import Choices
from harvestcast.season.next.seeds import planting_figures
from harvestcast.season.yields.plantings import season_of_each, sizes
from harvestcast.solver import Infeasible, Model, NotFound, Solver

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

NO_ROOM, NO_SUPPORT, TOO_SOON, AGAIN, A_PIECE = 100.0, 35.0, 10.0, 5.0, 1.0
"""Points for a row without room, for one that climbs without a support, for a row whose family
comes back a year too soon, for one that follows its own family in the same bed and year, and for
each bed that a row is laid in. Our judgement; they only say what matters more."""
SUPPORTS = ("trellis", "fence", "netting", "pergola", "arbour", "arbor", "spalier", "zaun",
            "rankgitter", "treillis", "clôture", "espaldera", "valla", "graticcio", "recinto",
            "latwerk", "hek")  # fmt: skip
"""Words in the name of a bed that say what climbs can be tied to there, in the languages of the
headings."""
LEAST_PIECE = 0.2
"""Least share of a row that is laid in a bed."""
CROWDED = 1.05
"""A bed takes so many times the most that is on record in it: spacing differs that much."""
STEPS = 300
"""Nodes of the search tree at most."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """Beds that the plantings name.

    Parameters
    ----------
    names : tuple of str
        Beds, sorted.
    room_m2 : ndarray, shape (beds, bed weeks)
        Area that is free for rows of a plan, week by week.
    bore : mapping of (bed, family) to int
        Last season that each family was planted for in each bed.
    since : int or None
        First season that the log knows.
    stands : mapping of (crop, variety) to str
        Bed of each perennial.
    covered : frozenset of str
        Beds under cover.
    climbs : frozenset of (crop, variety)
        What stood at a support in all of its beds.
    """

    names: tuple[str, ...]
    room_m2: Array
    bore: Mapping[tuple[str, str], int]
    since: int | None
    stands: Mapping[tuple[str, str], str]
    covered: frozenset[str] = frozenset()
    climbs: frozenset[tuple[str, str]] = frozenset()


def ground_of(
    garden: Garden, options: Sequence[PlantingOption], choices: Choices, year: int
) -> Ground:
    """Read beds, their size and what stood in them from the plantings before a season."""
    rows = garden.plantings
    season = season_of_each(garden)
    mine = rows[rows["bed"].notna() & season.notna() & (season < year).fillna(False)]
    weeks = choices.stands.shape[1]
    taken: dict[tuple[str, int], Array] = {}
    bore: dict[tuple[str, str], int] = {}
    stands: dict[tuple[str, str], str] = {}
    for at, crop, variety, bed in zip(
        mine.index, mine["crop"], mine["variety"], mine["bed"].astype(str), strict=True
    ):
        facts = crop_facts(str(crop), garden.household)
        one = int(season[at])
        if facts.perennial and pd.isna(mine.loc[at, "removed"]):
            # It took its room beside the rows all the time.
            stands[str(crop), str(variety)] = bed
            continue
        area = sizes(mine.loc[[at]], facts)["area_m2"]
        area = area if area > 0 else 0.0
        place = _nearest(options, str(crop), str(variety), mine.loc[at, "date"])
        when = choices.stands[place] if place is not None else np.ones(weeks)
        taken[bed, one] = taken.get((bed, one), np.zeros(weeks)) + area * when
        family = planting_figures(str(crop)).family
        if family:
            bore[bed, family] = max(bore.get((bed, family), one), one)
    names = tuple(sorted({bed for bed, _ in taken}))
    beds, kinds = mine["bed"].astype(str), [mine["crop"].astype(str), mine["variety"].astype(str)]
    glass = mine["cover"].notna().groupby(beds).mean()
    climbs = beds.map(supported).groupby(kinds).all()
    room = np.zeros((len(names), weeks))
    for (bed, _), area_of in taken.items():
        place = names.index(bed)
        room[place] = np.maximum(room[place], area_of.max())
    return Ground(
        names=names,
        room_m2=room,
        bore=bore,
        since=min((one for _, one in taken), default=None),
        stands=stands,
        covered=frozenset(str(bed) for bed in glass.index[glass >= 0.5]),
        climbs=frozenset((str(c), str(v)) for c, v in climbs.index[climbs.to_numpy(bool)]),
    )


def supported(bed: str) -> bool:
    """Return whether the name of a bed says that there is something to climb.

    Examples
    --------
    >>> supported("North trellis"), supported("Am Zaun"), supported("long bed")
    (True, True, False)
    """
    return any(word in bed.casefold() for word in SUPPORTS)


def _nearest(
    options: Sequence[PlantingOption], crop: str, variety: str, date: pd.Timestamp
) -> int | None:
    """Return the option of a crop nearest in the year, of its variety where there is one."""
    here = [i for i, o in enumerate(options) if o.crop == crop]
    own = [i for i in here if options[i].variety == variety] or here
    if not own:
        return None
    apart = [abs((options[i].date - date).days % 365 - 182) for i in own]
    return own[int(np.argmax(apart))]


def years_missing(ground: Ground, bed: str, crop: str, year: int) -> float:
    """Return the years by which a family comes back to a bed too soon; 0 where it does not."""
    figures = planting_figures(crop)
    last = ground.bore.get((bed, figures.family))
    if last is None or not np.isfinite(figures.years_apart):
        return 0.0
    return max(figures.years_apart - (year - last), 0.0)


def laid(
    ground: Ground, options: Sequence[PlantingOption], plants: Array, choices: Choices, year: int
) -> Array:
    """Return the area of each option in each bed, shape (options, beds). [m2].

    What has no room is laid nowhere.
    """
    area = plants * choices.area_m2
    rows = [i for i in np.flatnonzero(area > 0).tolist() if not options[i].standing]
    beds = len(ground.names)
    found = np.zeros((len(options), beds))
    if not rows or not beds:
        return found
    wanted = area[rows][:, None]
    soon = np.array(
        [[years_missing(ground, b, options[i].crop, year) for b in ground.names] for i in rows]
    )
    bare = np.array(
        [
            [(o.crop, o.variety) in ground.climbs and not supported(b) for b in ground.names]
            for o in (options[i] for i in rows)
        ]
    )
    fits = np.array(
        [[options[i].covered == (b in ground.covered) for b in ground.names] for i in rows]
    )
    model = Model()
    cost = TOO_SOON * soon + NO_SUPPORT * bare
    lies = model.columns((len(rows), beds), cost, high=np.where(fits, np.inf, 0.0))
    used = model.columns((len(rows), beds), A_PIECE, high=1.0, whole=True)
    missing = model.columns(len(rows), NO_ROOM)
    # Shares of each row: all of it lies somewhere or is missing.
    whole = model.rows(len(rows), 1.0, low=1.0)
    model.add(whole[:, None], lies)
    model.add(whole, missing)
    within = model.rows((len(rows), beds))
    model.add(within, lies)
    model.add(within, used, -1.0)
    some = model.rows((len(rows), beds))
    model.add(some, used, LEAST_PIECE)
    model.add(some, lies, -1.0)
    follow = _following([options[i] for i in rows], choices.stands[rows])
    if len(follow):
        twice = model.columns((len(follow), beds), AGAIN, high=1.0)
        once = model.rows((len(follow), beds), 1.0)
        model.add(once, used[follow[:, 0]])
        model.add(once, used[follow[:, 1]])
        model.add(once, twice, -1.0)
    room = model.rows(ground.room_m2.shape, CROWDED * ground.room_m2)
    model.add(room[None], lies[:, :, None], (wanted * choices.stands[rows])[:, None, :])
    try:
        answer = Solver(model).solve(gap=0.01, most_nodes=STEPS)
    except (Infeasible, NotFound):
        return found
    share = answer.x[lies]
    found[rows] = np.where(share > 0.01, share, 0.0) * wanted
    return found


def _following(options: Sequence[PlantingOption], stands: Array) -> Index:
    """Return pairs of rows of one family that do not stand together, shape (pairs, 2)."""
    families = [planting_figures(one.crop).family for one in options]
    apart = stands @ stands.T == 0
    pairs = [
        (one, other)
        for one, family in enumerate(families)
        for other in range(one)
        if family and families[other] == family and apart[one, other]
    ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def places_table(
    ground: Ground,
    options: Sequence[PlantingOption],
    plants: Array,
    choices: Choices,
    seasons: tuple[int, Callable[[int], str]],
    beds: pd.DataFrame,
) -> pd.DataFrame:
    """Return which bed takes which row, from when to when, and what its family did there (PLACES).

    Parameters
    ----------
    ground : Ground
        Beds.
    options, plants, choices
        What can be planted, and the plan.
    seasons : tuple of int and callable
        The season planned, and what a season is called.
    beds : pandas.DataFrame
        Table BEDS of the plan, for its days.
    """
    year, label = seasons
    area = laid(ground, options, plants, choices, year)
    ends = beds.set_index(["crop", "variety", "date"])["last_pick"].to_dict()
    rows = []
    for place in np.flatnonzero(plants > 0).tolist():
        option = options[place]
        whole = float(plants[place] * option.area_m2)
        figures = planting_figures(option.crop)
        if option.standing:
            bed = ground.stands.get((option.crop, option.variety))
            pieces = [(bed, whole)]
            first, last = option.since, pd.NaT
        else:
            pieces = [
                (name, float(m2)) for name, m2 in zip(ground.names, area[place], strict=True) if m2
            ]
            rest = whole - sum(m2 for _, m2 in pieces)
            if rest > 0.02 * whole:
                pieces.append((None, rest))
            first = option.date
            last = ends.get((option.crop, option.variety, option.date), pd.NaT)
        for bed, m2 in pieces:
            before = ground.bore.get((bed, figures.family)) if bed else None
            missing = years_missing(ground, bed, option.crop, year) if bed else 0.0
            if option.standing:
                code = "place.stands"
            elif bed is None:
                code = "place.no_room"
            elif missing > 0:
                code = "place.too_soon"
            elif before is None:
                code = "place.new"
            else:
                code = "place.rested"
            line = said(
                code,
                family=figures.family,
                last=label(before) if before is not None else "",
                years=figures.years_apart,
                since=label(ground.since) if ground.since is not None else "",
            )
            rows.append(
                {
                    "bed": bed,
                    "crop": option.crop,
                    "variety": option.variety,
                    "date": first,
                    "until": last,
                    "plants": round(plants[place] * m2 / whole) if whole > 0 else 0,
                    "area_m2": m2,
                    "family": figures.family or None,
                    "last_season": label(before) if before is not None else None,
                    "years_apart": figures.years_apart,
                    "code": code,
                    "says": line.text,
                }
            )
    frame = pd.DataFrame(rows, columns=PLACES.names)
    frame = frame.sort_values(["bed", "date", "crop", "variety"], kind="stable")
    return check_frame(frame.reset_index(drop=True), PLACES)
