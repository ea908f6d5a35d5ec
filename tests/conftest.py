"""Shared fixtures: where the outside figures stand, and the matplotlib backend."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import matplotlib as mpl
import pytest

mpl.use("Agg")

ROOT = Path(__file__).parents[1]
# Figures and logs that are not part of the project stand beside the checkout, or where the
# variable says; tests that read them skip where they are absent.
SHARED = Path(os.environ.get("HARVESTCAST_SHARED", ROOT.parent / "shared"))


def shared_file(name: str) -> Path:
    """Return a file of the outside figures, or skip the test with the reason."""
    path = SHARED / name
    if not path.exists():
        pytest.skip(f"outside figures absent: {name}")
    return path


@pytest.fixture(scope="session")
def shared() -> "object":
    """Return the look-up of outside files; it skips the test where the file is absent."""
    return shared_file


@pytest.fixture(scope="session")
def sample_folder() -> Path:
    """Return the invented garden that comes with the project."""
    return ROOT / "sample_logs"


@pytest.fixture(autouse=True)
def _no_figure_left_open() -> Iterator[None]:
    """Close what results drew of themselves, as a session's end does."""
    yield
    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")
