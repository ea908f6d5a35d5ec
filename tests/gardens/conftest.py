"""Small gardens for the tests of the gardens room."""

from pathlib import Path

import pytest

from harvestcast.gardens.dataset import GardenTables, write_dataset
from harvestcast.gardens.run import GardensResult, run_gardens
from tests.gardens.many import many_gardens

CROPS = ("cucumber",)


@pytest.fixture(scope="session")
def tables() -> GardenTables:
    """Five gardens of two plantings, three weather stations."""
    return many_gardens(5, seed=5, crops=CROPS, stations=3, weather_years=4)


@pytest.fixture(scope="session")
def dataset(tables: GardenTables, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same as a dataset in shares of about two gardens."""
    root = tmp_path_factory.mktemp("gardens") / "dataset"
    write_dataset(root, tables, per_share=2)
    return root


@pytest.fixture(scope="session")
def undisturbed(dataset: Path) -> GardensResult:
    """What comes out on one core when nothing happens."""
    return run_gardens(dataset, draws=100)


@pytest.fixture(scope="session")
def forecasts_only(dataset: Path) -> GardensResult:
    """The forecasts alone, on one core."""
    return run_gardens(dataset, draws=100, varieties=False)
