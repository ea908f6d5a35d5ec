"""Results of two runs compared to the last digit."""

import pandas as pd

from harvestcast.gardens.run import GardensResult
from harvestcast.gardens.study import RESULTS


def assert_same(one: GardensResult, other: GardensResult) -> None:
    for name in RESULTS:
        pd.testing.assert_frame_equal(getattr(one, name), getattr(other, name), check_exact=True)


def without(result: GardensResult, gardens: set[str]) -> dict[str, pd.DataFrame]:
    tables = {name: getattr(result, name) for name in RESULTS}
    return {
        name: table[~table["garden"].isin(gardens)].reset_index(drop=True)
        for name, table in tables.items()
    }
