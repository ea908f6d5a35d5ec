"""The same forecasts and comparisons whoever works them out, in whatever shares."""

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from harvestcast.errors import InputError
from harvestcast.frames.gardens_tables import FORECASTS
from harvestcast.gardens.dataset import GardenTables, dataset_shares, write_dataset
from harvestcast.gardens.engine import local
from harvestcast.gardens.run import GardensResult, read_results, run_gardens
from harvestcast.gardens.sources import bucket, buckets_for
from harvestcast.gardens.study import seed_of
from harvestcast.growth.forecast import forecast
from harvestcast.season.review.varieties import compare_varieties
from tests.gardens.many import many_gardens
from tests.gardens.same import assert_same
from tests.simulated import simulate_garden, write_folder
from tests.simulated.families import HALF_YEAR, _moved


def test_every_garden_gets_the_forecast_it_gets_alone(
    dataset: Path, undisturbed: GardensResult
) -> None:
    share = dataset_shares(dataset)[0]
    name, opener = share.load("")[0]
    garden = opener()
    day = garden.last_day
    alone = forecast(garden, draws=100, seed=seed_of(name, day.date().isoformat(), 1)).weekly()
    mine = undisturbed.forecasts
    mine = mine[mine["garden"] == name].reset_index(drop=True)
    assert len(mine) == len(alone) == 3
    assert (mine["as_of"] == day).all()
    pd.testing.assert_frame_equal(mine[alone.columns], alone, check_exact=True)


def test_varieties_are_those_of_the_season_room_to_the_last_digit(
    dataset: Path, undisturbed: GardensResult
) -> None:
    name, opener = dataset_shares(dataset)[0].load("")[0]
    review = compare_varieties(opener(), year=2026, draws=100, seed=seed_of(name, "2026", 1))
    for table, whole in (("measures", undisturbed.varieties), ("best", undisturbed.best)):
        alone = getattr(review, table)
        mine = whole[whole["garden"] == name].reset_index(drop=True)
        assert len(mine) > 10
        pd.testing.assert_frame_equal(mine[alone.columns], alone, check_exact=True)


def test_shares_of_another_size_change_no_digit(
    tables: GardenTables, undisturbed: GardensResult
) -> None:
    whole = run_gardens(tables, draws=100, per_share=100)
    assert len(whole.shares) == 1
    assert len(undisturbed.shares) > 2
    assert_same(whole, undisturbed)


@pytest.mark.statistics
def test_two_worker_processes_change_no_digit(
    dataset: Path, undisturbed: GardensResult, tmp_path: Path
) -> None:
    with local(2) as client:
        both = run_gardens(dataset, tmp_path, draws=100, cluster=client)
        # By the address of the scheduler, as a cluster of other machines is named.
        address = client.scheduler.address
        again = run_gardens(dataset, draws=100, cluster=address, varieties=False)
    assert_same(both, undisturbed)
    pd.testing.assert_frame_equal(again.forecasts, undisturbed.forecasts, check_exact=True)
    assert both.shares["process"].nunique() == 2
    assert_same(read_results(tmp_path), undisturbed)


def test_gardens_that_join_change_no_other(undisturbed: GardensResult) -> None:
    from tests.gardens.conftest import CROPS

    tables = many_gardens(5, seed=5, crops=CROPS, stations=3, weather_years=4)
    keep = sorted(tables.gardens["garden"])[:2]
    few = replace(
        tables,
        **{
            name: table[table["garden"].isin(keep)]
            for name, table in (
                ("gardens", tables.gardens),
                ("picks", tables.picks),
                ("plantings", tables.plantings),
            )
        },
    )
    alone = run_gardens(few, draws=100, varieties=False).forecasts
    among = undisturbed.forecasts
    among = among[among["garden"].isin(keep)].reset_index(drop=True)
    pd.testing.assert_frame_equal(alone, among, check_exact=True)


def test_folders_in_any_order_or_by_the_folder_that_holds_them(tmp_path: Path) -> None:
    for seed in (1, 2):
        sim = simulate_garden(
            seed, crops=("cucumber",), weather_years=3, as_of="2026-07-25", truth=False
        )
        write_folder(sim, tmp_path / "all" / f"school {seed}")
    wanted = {"draws": 100, "by": "variety", "varieties": False}
    one = run_gardens(tmp_path / "all", **wanted)
    other = run_gardens([tmp_path / "all" / "school 2", tmp_path / "all" / "school 1"], **wanted)
    assert_same(one, other)
    assert one.errors.empty
    assert one.forecasts["garden"].unique().tolist() == ["school 1", "school 2"]
    assert one.forecasts["variety"].notna().all()


def test_two_folders_of_one_name_are_refused(tmp_path: Path) -> None:
    sim = simulate_garden(1, crops=("cucumber",), weather_years=1, truth=False)
    twins = [write_folder(sim, tmp_path / side / "plot") for side in ("east", "west")]
    with pytest.raises(InputError, match="Rename one of them"):
        run_gardens(twins)
    with pytest.raises(InputError, match="neither garden folders nor a dataset"):
        run_gardens(tmp_path / "east" / "plot")


def test_a_dataset_with_a_folder_for_each_garden_is_read_too(
    tables: GardenTables, undisturbed: GardensResult, tmp_path: Path
) -> None:
    """As pandas and Dask write it when asked to partition by garden."""
    for name in ("gardens", "picks", "plantings"):
        getattr(tables, name).to_parquet(tmp_path / name, partition_cols=["garden"])
    tables.weather.to_parquet(tmp_path / "weather", partition_cols=["station"])
    result = run_gardens(tmp_path, draws=100, per_share=3, varieties=False)
    pd.testing.assert_frame_equal(result.forecasts, undisturbed.forecasts, check_exact=True)


def test_weather_of_its_own_or_of_a_station_is_the_same_weather(undisturbed: GardensResult) -> None:
    from tests.gardens.conftest import CROPS

    own = many_gardens(5, seed=5, crops=CROPS, stations=3, weather_years=4, own_weather=True)
    result = run_gardens(own, draws=100, varieties=False)
    pd.testing.assert_frame_equal(result.forecasts, undisturbed.forecasts, check_exact=True)


def test_day_and_seed_are_what_is_asked_for(dataset: Path, undisturbed: GardensResult) -> None:
    earlier = run_gardens(dataset, draws=100, as_of="2026-07-20", varieties=False).forecasts
    assert (earlier["start"].min(), earlier["end"].max()) == (
        pd.Timestamp("2026-07-21"),
        pd.Timestamp("2026-08-10"),
    )
    other = run_gardens(dataset, draws=100, seed=2, varieties=False).forecasts
    assert (other["mean_kg"] != undisturbed.forecasts["mean_kg"]).any()


def test_a_dataset_names_every_garden_it_has_rows_of(tables: GardenTables, tmp_path: Path) -> None:
    fewer = replace(tables, gardens=tables.gardens.iloc[1:])
    with pytest.raises(InputError, match="picks has rows of gardens"):
        write_dataset(tmp_path / "new", fewer)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "notes.txt").touch()
    with pytest.raises(InputError, match="holds something already"):
        write_dataset(tmp_path / "full", tables)


def test_buckets_are_even_and_stay_put() -> None:
    names = [f"garden {number}" for number in range(4000)]
    held = pd.Series([bucket(name, 16) for name in names]).value_counts()
    # Binomial: 250 a bucket, sd 15.3; five of them either way.
    assert held.between(250 - 77, 250 + 77).all()
    assert [buckets_for(n, 64) for n in (1, 64, 65, 10_000, 1_000_000)] == [1, 1, 2, 256, 16384]


def test_results_obey_their_specification(undisturbed: GardensResult) -> None:
    forecasts = undisturbed.forecasts
    assert forecasts.columns.tolist() == FORECASTS.names
    assert forecasts["garden"].is_monotonic_increasing
    assert undisturbed.errors.empty
    assert repr(undisturbed) == "GardensResult(5 gardens, 0 errors)"


def test_a_southern_garden_is_compared_in_its_own_season(tmp_path: Path) -> None:
    # Half a year later its season crosses New Year: the last day known lies in 2027, in the
    # season that began in 2026.
    sim = simulate_garden(5, crops=("cucumber",), weather_years=2, truth=False, as_of="2026-08-30")
    south = _moved(sim, HALF_YEAR)
    write_folder(south, tmp_path / "south", settings="latitude = -42\n")
    result = run_gardens(tmp_path, draws=100)
    assert result.errors.empty, result.errors["message"].tolist()
    assert south.picks["date"].max().year == 2027
    assert set(result.varieties["year"]) == {2026}
