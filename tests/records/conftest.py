"""A small invented garden in a temporary folder, and ways to break it."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from harvestcast.errors import InputError, TypedError

GOOD = {
    "garden.toml": 'place = "Nowhere Hill (invented)"\nelevation_m = 120\nunits = "metric"\n',
    "plantings.csv": (
        "crop,variety,bed,date,how,plants\n"
        "cucumber,Fennick,A,2026-05-20,sown,12\n"
        "tomato,Old Lantern,B,2026-05-25,set_out,6\n"
        "tomato,Brick Row,B,2026-05-25,set_out,6\n"
    ),
    "picks.csv": (
        "date,crop,variety,count,weight_kg,grade,note\n"
        "2026-07-10,cucumber,Fennick,4,0.5,,\n"
        "2026-07-12,cucumber,Fennick,7,0.9,,\n"
        "2026-07-20,tomato,Brick Row,,1.2,,\n"
    ),
    "weather.csv": (
        "date,tmin_c,tmax_c,rain_mm\n2026-07-18,14,26,0\n2026-07-19,15,27,2.5\n2026-07-20,13,25,T\n"
    ),
    "pantry.csv": ("date,product,jar,change,produce_kg\n2026-07-15,dill pickles,pint,7,4.5\n"),
}


@contextmanager
def refused(*codes: str) -> Iterator[pytest.ExceptionInfo[InputError | TypedError]]:
    """Hold a block to ending in an error of just these codes."""
    with pytest.raises((InputError, TypedError)) as caught:
        yield caught
    error = caught.value
    found = (error.code,) if isinstance(error, TypedError) else [p.code for p in error.problems]
    assert tuple(found) == codes
    assert str(error)


@pytest.fixture
def make(tmp_path: Path) -> Callable[..., Path]:
    """Return a maker of garden folders: ``make(picks="...")`` replaces files, None removes."""

    def build(name: str = "garden", **files: str | bytes | None) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        names = {"garden": "garden.toml"} | {
            stem: f"{stem}.csv" for stem in ("plantings", "picks", "weather", "pantry")
        }
        given = {names.get(key, key): content for key, content in files.items()}
        for file, content in {**GOOD, **given}.items():
            if isinstance(content, bytes):
                (folder / file).write_bytes(content)
            elif content is not None:
                (folder / file).write_text(content, "utf-8", newline="")
        return folder

    return build
