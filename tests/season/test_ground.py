"""Which bed takes which row: room, time and rotation, against layouts that can be seen at once."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import Garden
from harvestcast.season.next.ground import Ground, ground_of, laid, places_table, years_missing
from harvestcast.season.next.options import PlantingOption, planting_options
from harvestcast.season.next.programme import Choices
from tests.season.gardens import bell, garden, picks, plantings

YEAR = 2027


def _option(crop: str, date: str = "2027-05-15", **changes: object) -> PlantingOption:
    given = {
        "crop": crop, "variety": "Any", "how": "sown", "date": pd.Timestamp(date), "area_m2": 1.0,
        "row_m": 1.0, "step": 1, "low": 0.0, "high": np.inf, "this_year": 0.0, "since": None,
        "basis": "basis.own_log", **changes,
    }  # fmt: skip
    return PlantingOption(**given)  # type: ignore[arg-type]


def _choices(options: list[PlantingOption], stands: np.ndarray) -> Choices:
    number = len(options)
    return Choices(
        crop=np.arange(number),
        area_m2=np.array([one.area_m2 for one in options]),
        price=np.ones(number),
        stands=stands,
        low=np.zeros(number),
        high=np.full(number, np.inf),
        step=np.ones(number),
        bed_m2=float("inf"),
        group=np.arange(number),
        group_high=np.full(number, np.inf),
    )


def _ground(room: dict[str, float], bore: dict[tuple[str, str], int]) -> Ground:
    names = tuple(sorted(room))
    return Ground(
        names=names,
        room_m2=np.array([[room[name]] * 4 for name in names]),
        bore=bore,
        since=2024,
        stands={},
    )


def test_families_change_beds() -> None:
    """Tomatoes stood in the one bed last year, beans in the other: they change places."""
    ground = _ground({"a": 10.0, "b": 10.0}, {("a", "Solanaceae"): 2026, ("b", "Fabaceae"): 2026})
    options = [_option("tomato"), _option("snap bean")]
    area = laid(ground, options, np.array([8.0, 9.0]), _choices(options, np.ones((2, 4))), YEAR)
    assert area.tolist() == [[0.0, 8.0], [9.0, 0.0]]


def test_years_apart_are_counted_from_the_last_season() -> None:
    """Iowa State University: two to three years between crops of one family; corn from memory."""
    ground = _ground({"a": 1.0}, {("a", "Solanaceae"): 2026, ("a", "Fabaceae"): 2025})
    assert years_missing(ground, "a", "tomato", YEAR) == 1.0
    assert years_missing(ground, "a", "hot pepper", YEAR) == 1.0  # the same family
    assert years_missing(ground, "a", "pea", YEAR) == 0.0
    assert years_missing(ground, "a", "kale", YEAR) == 0.0
    assert years_missing(ground, "b", "tomato", YEAR) == 0.0


def test_no_bed_holds_more_than_its_room_in_any_week() -> None:
    rng = np.random.default_rng(4)
    crops = ["tomato", "snap bean", "pea", "kale", "zucchini", "okra", "chard", "onion"]
    options = [_option(crop) for crop in crops]
    stands = np.zeros((8, 4))
    for row in stands:
        first = rng.integers(0, 3)
        row[first : first + rng.integers(1, 4)] = 1.0
    ground = _ground({"a": 6.0, "b": 9.0, "c": 4.0}, {("a", "Solanaceae"): 2026})
    plants = rng.integers(1, 5, 8).astype(float)
    area = laid(ground, options, plants, _choices(options, stands), YEAR)
    assert (area.sum(axis=1) <= plants + 1e-6).all()
    assert ((area.T @ stands) <= 1.05 * ground.room_m2 + 1e-6).all()
    assert area[0, 0] == 0.0  # the tomatoes rest from their bed
    assert area.sum() > 0.9 * plants.sum()


def test_beds_follow_each_other_in_time() -> None:
    """Early peas and late beans need the same room, one after the other."""
    options = [_option("pea", "2027-04-10"), _option("kale", "2027-07-20")]
    stands = np.array([[1.0, 1, 0, 0], [0.0, 0, 1, 1]])
    area = laid(_ground({"a": 5.0}, {}), options, np.full(2, 5.0), _choices(options, stands), YEAR)
    assert area.tolist() == [[5.0], [5.0]]


def test_what_has_no_room_is_said() -> None:
    options = [_option("tomato"), _option("snap bean")]
    ground = _ground({"a": 9.0}, {("a", "Solanaceae"): 2026})
    choices = _choices(options, np.ones((2, 4)))
    plants = np.array([8.0, 9.0])
    beds = pd.DataFrame(
        {"crop": ["tomato", "snap bean"], "variety": "Any", "date": options[0].date,
         "last_pick": pd.Timestamp("2027-09-01")}
    )  # fmt: skip
    table = places_table(ground, options, plants, choices, (YEAR, str), beds)
    codes = dict(zip(zip(table["crop"], table["bed"].isna(), strict=True), table["code"],
                     strict=True))  # fmt: skip
    assert codes["snap bean", False] == "place.new"
    assert codes["tomato", True] == "place.no_room"
    assert table["area_m2"].sum() == pytest.approx(17.0)
    alone = places_table(ground, options, np.array([8.0, 0.0]), choices, (YEAR, str), beds)
    assert alone["code"].tolist() == ["place.too_soon"]
    assert alone["last_season"].tolist() == ["2026"]


def _two_seasons() -> Garden:
    planted = plantings([("tomato", "A", "south", "2025-05-15", "set_out", 6),
                         ("snap bean", "B", "north", "2025-05-20", "sown", 60),
                         ("raspberry", "C", "fence", "2022-04-15", "set_out", 12),
                         ("tomato", "A", "north", "2026-05-15", "set_out", 8),
                         ("snap bean", "B", "south", "2026-05-20", "sown", 40)])  # fmt: skip
    rows = [
        (day, crop, variety, kg)
        for crop, variety in (("tomato", "A"), ("snap bean", "B"), ("raspberry", "C"))
        for year in (2025, 2026)
        for day, kg in bell(f"{year}-07-20", 30, 9.0)
    ]
    return garden(planted, picks(rows))


def test_the_ground_is_read_from_the_plantings() -> None:
    case = _two_seasons()
    options = list(planting_options(case, year=YEAR, sowings=1))
    choices = _choices(options, np.ones((len(options), 4)))
    ground = ground_of(case, options, choices, YEAR)
    assert ground.names == ("north", "south")
    assert ground.since == 2025
    assert dict(ground.stands) == {("raspberry", "C"): "fence"}
    assert ground.bore["south", "Solanaceae"] == 2025
    assert ground.bore["north", "Solanaceae"] == 2026
    tomato = next(i for i, one in enumerate(options) if one.crop == "tomato")
    # Eight tomatoes are the most that stood in the north, forty to sixty beans in either.
    assert ground.room_m2[0].max() >= 8 * options[tomato].area_m2
    # The season to come is no part of what was.
    later = replace(
        case,
        plantings=pd.concat(
            [case.plantings, plantings([("kale", "D", "south", "2027-05-01", "sown", 5)])],
            ignore_index=True,
        ),
    )
    assert ("south", "Brassicaceae") not in ground_of(later, options, choices, YEAR).bore


def test_what_grew_under_glass_goes_there_and_nothing_else() -> None:
    """The bed under glass has room for all, the open one for the beans alone."""
    ground = replace(_ground({"glass": 20.0, "open": 9.0}, {}), covered=frozenset({"glass"}))
    options = [_option("tomato", covered=True), _option("snap bean"), _option("okra")]
    plants = np.array([8.0, 9.0, 4.0])
    area = laid(ground, options, plants, _choices(options, np.ones((3, 4))), YEAR)
    assert area[0].tolist() == [8.0, 0.0]
    assert (area[1:, 0] == 0.0).all()
    assert area[1:, 1].sum() <= 1.05 * 9.0 + 1e-6


def test_what_climbs_goes_to_a_support_even_too_soon() -> None:
    ground = _ground(
        {"long bed": 10.0, "north trellis": 10.0}, {("north trellis", "Fabaceae"): 2026}
    )
    options = [_option("snap bean"), _option("okra")]
    plants, choices = np.array([8.0, 9.0]), _choices([*options], np.ones((2, 4)))
    assert laid(ground, options, plants, choices, YEAR)[0].tolist() == [8.0, 0.0]
    climbs = replace(ground, climbs=frozenset({("snap bean", "Any")}))
    assert laid(climbs, options, plants, choices, YEAR)[0].tolist() == [0.0, 8.0]


def test_a_family_does_not_follow_itself_in_a_bed_of_the_year() -> None:
    """Peas, then beans, then kale: beans take the bed where no pea stood."""
    options = [_option("pea", "2027-04-10"), _option("snap bean", "2027-07-01"),
               _option("kale", "2027-07-20")]  # fmt: skip
    stands = np.array([[1.0, 1, 0, 0], [0.0, 0, 1, 1], [0.0, 0, 1, 1]])
    area = laid(_ground({"a": 5.0, "b": 5.0}, {}), options, np.full(3, 5.0),
                _choices(options, stands), YEAR)  # fmt: skip
    pea, bean, kale = (int(row.argmax()) for row in area)
    assert bean != pea and kale == pea
