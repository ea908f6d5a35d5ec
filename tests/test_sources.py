"""Published figures, in one table, through the public functions.

Each row says where the figure was published, what was put in, what must come out, how far it may
be off, and why. Figures that the project only has from memory stand in no row here. Rooms test
their own tables in full; this is the list a reader can check against the books in an hour.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from harvestcast.errors import ElevationError, UnsafeProcessError
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.crops.degree_days import degree_days
from harvestcast.growth.scores import crps_ensemble
from harvestcast.kitchen.handbook.amounts import amounts, yield_row
from harvestcast.kitchen.handbook.process_times import process
from harvestcast.kitchen.handbook.products import product
from harvestcast.records.household import to_metric_keys
from harvestcast.records.typed.numbers import KG

FOOT_M = 0.3048
ROUNDED = 0.005
"""Half of the last printed digit, for figures printed to two decimals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """One published figure."""

    source: str
    place: str
    given: str
    value: Callable[[], Any]
    expected: float
    tolerance: float = 0.0
    reason: str = "printed exactly"


def _heat(method: str, low: float, high: float, **more: float) -> float:
    """Degree-days in Fahrenheit: the functions take any unit as long as it is one."""
    return float(
        degree_days(low, high, base_c=more["base"], upper_c=more.get("upper"), method=method,
                    next_tmin_c=more.get("following"))
    )  # fmt: skip


def _minutes(name: str, jar: str, feet: float, **more: str) -> float:
    return process(name, jar=jar, elevation_m=feet * FOOT_M, **more).minutes


def _psi(name: str, feet: float, gauge: str) -> float | None:
    return process(name, jar="pint", elevation_m=feet * FOOT_M, gauge=gauge).pressure_psi


def _pounds_per_jar(key: str, jar: str) -> float:
    found = amounts(product(key), jar)
    assert found is not None
    return found.kg_per_jar / KG["lb"]


MCMASTER = "McMaster & Wilhelm 1997, Agric. For. Meteorol. 87:291-300"
ZALOM = "Zalom et al. 1983, UC Division of Agric. Sci. Leaflet 21373"
PERRY = "Perry & Wehner 1996, HortTechnology 6(1):27-30"
GUIDE = "USDA Complete Guide to Home Canning, as carried by MSU Extension, Preserving Food Safely"
CLOSED = "two decimals are printed"

FIGURES = [
    # Heat. Fahrenheit thresholds 55 and 90; a copy of its table was read.
    *[
        Published(
            source=ZALOM,
            place="Table 7",
            given=f"{method}, {low:.0f} to {high:.0f} F, next minimum {following:.0f} F",
            value=lambda m=method, a=low, b=high, c=following: _heat(
                m, a, b, base=55, upper=90, following=c if m.startswith("double") else None
            ),
            expected=expected,
            tolerance=ROUNDED,
            reason=CLOSED,
        )
        for low, high, following, table in (
            (96.0, 110.0, 91.0, {"triangle": 35.0, "sine": 35.0, "double_sine": 35.0}),
            (38.0, 50.0, 45.0, {"triangle": 0.0, "sine": 0.0, "double_triangle": 0.0}),
            (60.0, 80.0, 75.0, {"triangle": 15.0, "sine": 15.0, "double_sine": 18.75}),
            (
                50.0,
                82.0,
                45.0,
                {"triangle": 11.39, "double_triangle": 10.62, "sine": 11.85, "double_sine": 11.31},
            ),
            (45.0, 70.0, 50.0, {"triangle": 4.5, "double_triangle": 5.06}),
        )
        for method, expected in table.items()
    ],
    Published(
        source=MCMASTER,
        place="Table 1, first line",
        given="average, 10 to 20 C, base 0",
        value=lambda: _heat("average", 10, 20, base=0),
        expected=15.0,
    ),
    Published(
        source=MCMASTER,
        place="Table 1",
        given="both averages, 1 to 10 C, base 0",
        value=lambda: _heat("clipped_average", 1, 10, base=0),
        expected=5.5,
    ),
    Published(
        source=PERRY,
        place="abstract: base 60 F, ceiling 90 F on the maximum, reduced by the excess",
        given="maximum 95 F counts as 85 F",
        value=lambda: float(degree_days(70, 95, base_c=60, upper_c=90, method="reduced_maximum")),
        expected=25.0,
    ),
    # Thresholds of the almanac.
    Published(
        source=PERRY,
        place="abstract",
        given="base of cucumber, C",
        value=lambda: crop_facts("cucumber").base_c,
        expected=15.5,
    ),
    Published(
        source="Zalom & Wilson 1999, processing tomato",
        place="abstract",
        given="base of tomato, C",
        value=lambda: crop_facts("tomato").base_c,
        expected=10.0,
    ),
    Published(
        source="Soto-Ortiz & Silvertooth, Univ. of Arizona, cantaloupe phenology",
        place="thresholds 55 and 86 F",
        given="base of melon, C",
        value=lambda: crop_facts("melon").base_c,
        expected=(55 - 32) / 1.8,
        tolerance=0.05,
        reason="the almanac rounds to 0.1 C",
    ),
    # Canning: looked up, never computed.
    *[
        Published(
            source=GUIDE,
            place=place,
            given=f"{name}, {jar} at {feet} ft, minutes",
            value=lambda n=name, j=jar, f=feet: _minutes(n, j, f),
            expected=minutes,
        )
        for place, name, jar, feet, minutes in (
            ("quick fresh-pack dill pickles", "quick_fresh_pack_dill_pickles", "pint", 0, 10),
            ("quick fresh-pack dill pickles", "quick_fresh_pack_dill_pickles", "pint", 4000, 15),
            ("pickled beets", "pickled_beets", "pint", 4000, 40),
        )
    ],
    *[
        Published(
            source=GUIDE,
            place="snap beans, pints",
            given=f"{gauge} gauge at {feet} ft, psi",
            value=lambda f=feet, g=gauge: _psi("green_beans", f, g),
            expected=psi,
        )
        for gauge, feet, psi in (
            ("dial", 2000, 11),
            ("dial", 2001, 12),
            ("weighted", 1000, 10),
            ("weighted", 1001, 15),
        )
    ],
    Published(
        source=GUIDE,
        place="snap beans, pints",
        given="minutes at 2,001 ft",
        value=lambda: _minutes("green_beans", "pint", 2001, gauge="dial"),
        expected=20,
    ),
    # Produce and recipes.
    Published(
        source=GUIDE,
        place="snap beans: 14 lb per load of 7 quarts, 2 lb per quart",
        given="pounds a quart",
        value=lambda: _pounds_per_jar("canned_snap_beans", "quart"),
        expected=2.0,
        tolerance=1e-9,
        reason="pounds to kilograms and back",
    ),
    Published(
        source=GUIDE,
        place="sweet corn, in husk: 31.5 lb per load of 7 quarts, 4.5 lb per quart",
        given="pounds a quart",
        value=lambda: _pounds_per_jar("canned_corn", "quart"),
        expected=4.5,
        tolerance=1e-9,
        reason="pounds to kilograms and back",
    ),
    Published(
        source="NCHFP, Standard tomato sauce (USDA guide, rev. 2015)",
        place="thin sauce: 35 lb per 7 quarts, 5 lb per quart",
        given="pounds a quart",
        value=lambda: _pounds_per_jar("tomato_sauce", "quart"),
        expected=5.0,
        tolerance=1e-9,
        reason="pounds to kilograms and back",
    ),
    Published(
        source="NCHFP, Standard tomato sauce (USDA guide, rev. 2015)",
        place="thick sauce: 46 lb per 7 quarts, printed as 6.5 lb per quart",
        given="pounds a quart",
        value=lambda: _pounds_per_jar("thick_tomato_sauce", "quart"),
        expected=6.5,
        tolerance=0.1,
        reason="46/7 is 6.57; the guide prints 6.5",
    ),
    Published(
        source=GUIDE,
        place="quick fresh-pack dill pickles: 8 lb make 7 to 9 pints",
        given="pints of a recipe",
        value=lambda: amounts(product("dill_pickles"), "pint").recipe_jars,  # type: ignore[union-attr]
        expected=8.0,
        tolerance=1.0,
        reason="a range is printed",
    ),
    Published(
        source=GUIDE,
        place="quick fresh-pack dill pickles",
        given="cups of vinegar a recipe",
        value=lambda: yield_row(product("dill_pickles"))["vinegar_5pct_cups"],  # type: ignore[index]
        expected=6.0,
    ),
    Published(
        source=GUIDE,
        place="bread-and-butter pickles: 6 lb make about 8 pints",
        given="pounds a pint",
        value=lambda: _pounds_per_jar("bread_and_butter_pickles", "pint"),
        expected=6 / 8,
        tolerance=1e-9,
        reason="pounds to kilograms and back",
    ),
    # Scores: definitions worked by hand from the sources.
    Published(
        source="Gneiting & Raftery 2007, JASA 102:359-378",
        place="E|X - y| - E|X - X'|/2, over all pairs of the draws",
        given="draws 2, 3, 5, 8, 13; observed 6",
        value=lambda: float(crps_ensemble(6.0, [2, 3, 5, 8, 13], estimator="nrg")),
        expected=3.4 - 108 / 50,
        tolerance=1e-12,
        reason="rounding of floats",
    ),
    # Units, exact by definition.
    Published(
        source="International yard and pound agreement, 1959",
        place="1 ft = 0.3048 m",
        given="1,000 ft",
        value=lambda: to_metric_keys({"elevation_ft": 1000.0})["elevation_m"],
        expected=304.8,
    ),
    Published(
        source="International yard and pound agreement, 1959",
        place="1 lb = 0.45359237 kg",
        given="1 lb",
        value=lambda: KG["lb"],
        expected=0.45359237,
    ),
    Published(
        source="NIST Handbook 44, appendix C (citation from memory; exact by definition)",
        place="US liquid gallon of 231 cubic inches = 3.785411784 l",
        given="1 gal",
        value=lambda: to_metric_keys({"vinegar_gal": 1.0})["vinegar_l"],
        expected=3.785411784,
        tolerance=1e-9,
        reason="settings are rounded to nine decimals",
    ),
]


@pytest.mark.parametrize("figure", FIGURES, ids=lambda f: f"{f.source.split(',')[0]}: {f.given}")
def test_published_figure(figure: Published) -> None:
    """The function gives the published figure, within the tolerance and for its reason."""
    value = figure.value()
    assert value is not None
    assert np.isfinite(value)
    assert abs(value - figure.expected) <= figure.tolerance + 1e-12 * abs(figure.expected), (
        f"{figure.source}, {figure.place}: expected {figure.expected} "
        f"(within {figure.tolerance}: {figure.reason}), got {value}"
    )


@pytest.mark.parametrize(
    ("name", "options", "error"),
    [
        # Low-acid food in boiling water: refused by every publication (USDA guide, chapter 1).
        ("green_beans", {"elevation_m": 100, "method": "boiling_water"}, UnsafeProcessError),
        # No elevation, no time.
        ("green_beans", {"elevation_m": None, "gauge": "dial"}, ElevationError),
        # Nothing is on record, so nothing is guessed.
        ("zucchini_butter", {"elevation_m": 100}, UnsafeProcessError),
    ],
)
def test_what_no_publication_supports_is_refused(
    name: str, options: dict[str, Any], error: type[Exception]
) -> None:
    with pytest.raises(error):
        process(name, jar="pint", **options)
