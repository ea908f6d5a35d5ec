"""Why rows are in a plan and varieties are not, on futures whose answer can be seen."""

from dataclasses import replace

import numpy as np
import pandas as pd

from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import STAYING
from harvestcast.season.next.futures import SeasonFutures
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.why import row_reasons, staying_table
from tests.season.test_ground import _option

DRAWS = 200


def _drawn(kg: list[np.ndarray], first: list[float], last: list[float]) -> SeasonFutures:
    per_plant = np.stack(kg, axis=1)[:, None, :]  # one week
    days = np.ones((DRAWS, 1))
    return SeasonFutures(
        per_plant=per_plant,
        weeks=pd.date_range("2027-07-05", periods=1, freq="7D"),
        first=pd.Timestamp("2027-01-01"),
        first_pick=days * np.array(first),
        last_pick=days * np.array(last),
        weather_year=np.zeros(DRAWS, dtype=np.int64),
        notices=(),
    )


def _tomatoes() -> tuple[list[PlantingOption], SeasonFutures]:
    """Early, late, rich, a middling one that is good where the rich one fails, and a poor one."""
    rng = np.random.default_rng(1)
    luck = rng.normal(0, 0.3, DRAWS)
    names = ("Early", "Late", "Rich", "Other", "Poor")
    options = [_option("tomato", variety=name) for name in names]
    kg = [
        np.exp(0.3 + luck), np.exp(0.3 + luck), np.exp(1.0 + luck), np.exp(0.8 - luck),
        np.exp(-2.0 + luck),
    ]  # fmt: skip
    return options, _drawn(kg, [180.0, 200, 200, 200, 200], [240.0, 270, 240, 240, 240])


def test_every_row_has_a_reason_of_its_own() -> None:
    options, drawn = _tomatoes()
    plants = np.array([3.0, 3, 3, 3, 0])
    said = row_reasons(options, plants, drawn, "metric")
    codes = {options[i].variety: one.code for i, one in said.items()}
    assert codes == {"Early": "row.first", "Late": "row.longest", "Rich": "row.yields",
                     "Other": "row.stands_in"}  # fmt: skip
    assert said[0].facts["days"] == 20 and said[1].facts["days"] == 30
    # Its luck is the other's bad luck: in all of the rich one's poor seasons it does well.
    assert said[3].facts == {"other": "Rich", "share": 1.0}
    alone = row_reasons(options, np.array([0.0, 0, 3, 0, 0]), drawn, "metric")
    assert [one.code for one in alone.values()] == ["row.alone"]


def test_sowings_of_one_variety_are_told_by_their_days() -> None:
    options = [_option("pea", "2027-04-10"), _option("pea", "2027-05-16")]
    kg = [np.ones(DRAWS), np.ones(DRAWS)]
    said = row_reasons(options, np.ones(2), _drawn(kg, [160.0, 180], [185.0, 200]), "us")
    assert said[0].text == "first picked 20 days before the sowing of 16 May"
    assert said[1].text == "picked 15 days longer than the sowing of 10 April"


def test_what_stands_is_no_choice() -> None:
    stands = replace(_option("raspberry"), since=pd.Timestamp("2022-04-15"))
    drawn = _drawn([np.ones(DRAWS)], [180.0], [240.0])
    assert row_reasons([stands], np.ones(1), drawn, "us")[0].code == "row.stands"
    assert len(staying_table([stands], np.ones(1), drawn, {}, "us")) == 0


def test_a_variety_goes_only_where_it_hardly_ever_wins() -> None:
    options, drawn = _tomatoes()
    table = staying_table(options, np.array([0.0, 0, 3, 0, 0]), drawn, {}, "metric")
    pd.testing.assert_frame_equal(check_frame(table, STAYING), table)
    verdict = table.set_index("variety")["verdict"].to_dict()
    # Early and late ones share the luck of the rich one and never bring more; the other one wins
    # wherever that one fails.
    assert verdict == {"Early": "drop", "Late": "drop", "Other": "try_again", "Poor": "drop",
                       "Rich": "keep"}  # fmt: skip
    row = table.set_index("variety").loc["Other"]
    assert row["against"] == "Rich"
    wins = drawn.per_plant[:, 0, 3] > drawn.per_plant[:, 0, 2]
    assert row["chance_better"] == wins.mean()
    nothing = staying_table(options, np.zeros(5), drawn, {}, "metric")
    assert set(nothing["code"]) == {"staying.no_use"}
