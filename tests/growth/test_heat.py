"""Degree-days against published values, integration and limiting cases."""

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad

from harvestcast.growth.crops.degree_days import CUTOFFS, METHODS, accumulate, degree_days

CURVES = ("sine", "triangle", "double_sine", "double_triangle")

# Zalom F.G., Goodell P.B., Wilson L.T., Barnett W.W., Bentley W.J. (1983) Degree-days: the
# calculation and use of heat units in pest management. Univ. of California DANR Leaflet 21373,
# Table 7: degF, lower 55, upper 90, horizontal cutoff; one row of each of its six cases
# (read in a copied table). tmin, tmax, next tmin, triangle, double triangle, sine, double sine.
# Case 5's double triangle is printed 24.88; integration gives 27.125, so it is left out here.
ZALOM_TABLE_7 = [
    (96, 110, 91, 35.0, 35.0, 35.0, 35.0),
    (45, 54, 38, 0.0, 0.0, 0.0, 0.0),
    (60, 80, 75, 15.0, 18.75, 15.0, 18.75),
    (75, 88, 60, 26.5, 22.75, 26.5, 22.75),
    (50, 82, 45, 11.39, 10.62, 11.85, 11.31),
    (45, 70, 50, 4.5, 5.06, 5.31, 5.70),
    (60, 100, 75, 23.75, None, 22.82, 26.26),
    (75, 95, 60, 29.38, 25.76, 28.91, 25.30),
    (50, 101, 48, 19.56, 19.19, 18.95, 18.69),
]
# McMaster & Wilhelm (1997) Agric. For. Meteorol. 87:291-300, Table 1 (read in a copied table):
# degC, base 0. tmin, tmax, method 1, method 2.
MCMASTER_TABLE_1 = [
    (10, 20, 15.0, 15.0),
    (1, 10, 5.5, 5.5),
    (-2, 8, 3.0, 4.0),
    (-5, 5, 0.0, 2.5),
    (-7, -2, 0.0, 0.0),
    (-2, 10, 4.0, 5.0),
    (2, 15, 8.5, 8.5),
]
# Ohio State University Extension, corn growing degree-days, 86/50 degF (read).
CORN_86_50 = [(63, 87, 24.5)]


@pytest.mark.parametrize("row", ZALOM_TABLE_7, ids=lambda r: f"{r[0]}-{r[1]}")
def test_zalom_1983_table_7(row: tuple) -> None:
    tmin, tmax, following, *values = row
    for method, value in zip(
        ("triangle", "double_triangle", "sine", "double_sine"), values, strict=True
    ):
        if value is None:
            continue
        heat = degree_days(
            tmin, tmax, base_c=55, upper_c=90, method=method, next_tmin_c=following
        ).item()
        # Printed to two decimals.
        assert heat == pytest.approx(value, abs=0.005001), method


@pytest.mark.parametrize(("tmin", "tmax", "first", "second"), MCMASTER_TABLE_1)
def test_mcmaster_wilhelm_1997_table_1(tmin, tmax, first, second) -> None:
    assert degree_days(tmin, tmax, base_c=0, method="average") == first
    assert degree_days(tmin, tmax, base_c=0, method="clipped_average") == second


@pytest.mark.parametrize(("tmin", "tmax", "value"), CORN_86_50)
def test_corn_rule_86_50(tmin, tmax, value) -> None:
    heat = degree_days(tmin, tmax, base_c=50, upper_c=86, method="clipped_average")
    assert heat == value


def test_reduced_ceiling_of_perry_and_wehner_1996() -> None:
    """The rule in the abstract: above 90 degF the maximum is taken down by its excess."""
    heat = degree_days(
        50, [58, 60, 75, 90, 95, 105, 121], base_c=60, upper_c=90, method="reduced_maximum"
    )
    assert heat.tolist() == [0, 0, 15, 30, 25, 15, 0]


HOUSE_METHOD = {
    "avg1": "average",
    "avg2": "clipped_average",
    "max_reduced_ceiling": "reduced_maximum",
    "single_sine": "sine",
    "single_triangle": "triangle",
    "double_sine": "double_sine",
    "double_triangle": "double_triangle",
}


def test_every_row_of_the_check_table(shared) -> None:
    rows = pd.read_csv(shared("science/degree_day_checks.csv"))
    assert len(rows) == 207
    for row in rows.itertuples():
        plain = row.method in ("avg1", "avg2", "max_reduced_ceiling")
        heat = degree_days(
            row.tmin,
            row.tmax,
            base_c=row.base,
            upper_c=None if np.isnan(row.upper) else row.upper,
            method=HOUSE_METHOD[row.method],
            cutoff="horizontal" if plain or pd.isna(row.cutoff) else row.cutoff,
            next_tmin_c=None if np.isnan(row.next_tmin) else row.next_tmin,
        ).item()
        assert heat == pytest.approx(row.closed_form, abs=5.1e-7), row
        if row.matches_published_2dp == "yes":
            assert round(abs(heat - row.published_value), 6) <= 0.005, row


def _numerical(method, cutoff, tmin, tmax, following, base, upper) -> float:
    """Integrate the rate over the course of the day, minimum to maximum to minimum."""

    def course(share: float, low: float) -> float:
        if "sine" in method:
            return 0.5 * (tmax + low) - 0.5 * (tmax - low) * np.cos(np.pi * share)
        return low + (tmax - low) * share

    def rate(t: float) -> float:
        if t <= base:
            return 0.0
        if t <= upper or cutoff == "none":
            return t - base
        return {
            "horizontal": upper - base,
            "intermediate": 2 * upper - t - base,
            "intermediate_floored": max(0.0, 2 * upper - t - base),
            "vertical": 0.0,
        }[cutoff]

    def half(low: float) -> float:
        kinks = []
        for level in (base, upper, 2 * upper - base):
            if low < level < tmax:
                share = (level - low) / (tmax - low)
                kinks.append(np.arccos(1 - 2 * share) / np.pi if "sine" in method else share)
        return quad(lambda s: rate(course(s, low)), 0, 1, points=kinks or None, limit=200)[0]

    second = following if method.startswith("double") else tmin
    return 0.5 * (half(tmin) + half(second))


@pytest.mark.parametrize(("method", "cutoff"), [*itertools.product(CURVES, CUTOFFS)])
def test_closed_forms_agree_with_integration(method: str, cutoff: str) -> None:
    rng = np.random.default_rng(7)
    for _ in range(25):
        tmin = rng.uniform(-5, 30)
        tmax = tmin + rng.uniform(0.5, 25)
        following = rng.uniform(-5, tmax)
        base = rng.uniform(0, 16)
        upper = base + rng.uniform(5, 25)
        got = degree_days(
            tmin,
            tmax,
            base_c=base,
            upper_c=upper,
            method=method,
            cutoff=cutoff,
            next_tmin_c=following,
        ).item()
        want = _numerical(method, cutoff, tmin, tmax, following, base, upper)
        assert got == pytest.approx(want, abs=1e-7)


@pytest.mark.parametrize("method", METHODS)
def test_limiting_cases(method: str) -> None:
    def heat(tmin, tmax, upper=None):
        return degree_days(tmin, tmax, base_c=10, upper_c=upper, method=method).item()

    assert heat(-5, 10) == 0  # never above the base
    if method != "reduced_maximum":
        assert heat(12, 20) == pytest.approx(6)  # always above: the mean less the base
        assert heat(35, 40, upper=30) == pytest.approx(20)  # always above the ceiling
    assert heat(18, 18) == pytest.approx(8)  # a flat day
    assert heat(10, 10) == 0
    assert np.isnan(heat(np.nan, 20))
    assert np.isnan(heat(10, np.nan))


@pytest.mark.parametrize("method", CURVES)
def test_cutoffs_are_ordered_on_a_hot_day(method: str) -> None:
    none, horizontal, floored, vertical = (
        degree_days(15, 42, base_c=10, upper_c=30, method=method, cutoff=cutoff).item()
        for cutoff in ("none", "horizontal", "intermediate_floored", "vertical")
    )
    assert none > horizontal > floored > vertical > 0


def test_arrays_of_any_shape_and_next_minimum_along_the_last_axis() -> None:
    rng = np.random.default_rng(3)
    low = rng.uniform(2, 15, (4, 9))
    high = low + rng.uniform(3, 15, (4, 9))
    heat = degree_days(low, high, base_c=10, upper_c=28, method="double_sine")
    assert heat.shape == (4, 9)
    one = degree_days(
        low[2, 3], high[2, 3], base_c=10, upper_c=28, method="double_sine", next_tmin_c=low[2, 4]
    )
    assert heat[2, 3] == pytest.approx(one.item())
    last = degree_days(low[2, 8], high[2, 8], base_c=10, upper_c=28)
    assert heat[2, 8] == pytest.approx(last.item())


def test_a_night_warmer_than_the_day_before() -> None:
    heat = degree_days(2, 8, base_c=10, method="double_triangle", next_tmin_c=14).item()
    # Second half climbs from 8 to 14 in a line: a mean excess of 4 * 4 / 2 / 6; halved.
    assert heat == pytest.approx(0.5 * 4 * 4 / 2 / 6)


def test_accumulate_is_additive_and_starts_with_its_first_day() -> None:
    rng = np.random.default_rng(5)
    dates = pd.date_range("2025-04-01", periods=120)
    low = rng.uniform(2, 18, 120)
    weather = pd.DataFrame({"date": dates, "tmin_c": low, "tmax_c": low + 9})
    shuffled = weather.sample(frac=1, random_state=1)
    whole = accumulate(shuffled, "2025-04-11", base_c=10, upper_c=30)
    assert whole.index[0] == pd.Timestamp("2025-04-11")
    assert whole.iloc[0] == pytest.approx(
        degree_days(low[10], low[10] + 9, base_c=10, upper_c=30).item()
    )
    assert (np.diff(whole) >= 0).all()
    later = accumulate(weather, "2025-06-01", base_c=10, upper_c=30)
    assert whole.loc["2025-05-31"] + later.iloc[-1] == pytest.approx(whole.iloc[-1])


def test_accumulate_says_unknown_after_a_missing_day() -> None:
    dates = pd.to_datetime(["2025-06-01", "2025-06-03"])
    weather = pd.DataFrame({"date": dates, "tmin_c": 10.0, "tmax_c": 20.0})
    heat = accumulate(weather, "2025-06-01", base_c=10)
    assert heat.isna().tolist() == [False, True, True]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"method": "cosine"}, "unknown degree-day method"),
        ({"cutoff": "sharp"}, "unknown cutoff"),
        ({"method": "average", "cutoff": "vertical"}, "has no vertical cutoff"),
        ({"upper_c": 9.0}, "must lie above the base"),
        ({"tmin_c": 25.0}, "minimum above maximum"),
    ],
)
def test_bad_arguments_are_refused(arguments: dict, message: str) -> None:
    given = {"tmin_c": 10.0, "tmax_c": 20.0, "base_c": 10.0, **arguments}
    with pytest.raises(ValueError, match=message):
        degree_days(given.pop("tmin_c"), given.pop("tmax_c"), **given)


def test_accumulate_refuses_weather_that_ends_too_early_or_has_a_day_twice() -> None:
    day = pd.Timestamp("2025-06-01")
    weather = pd.DataFrame({"date": [day, day], "tmin_c": 10.0, "tmax_c": 20.0})
    with pytest.raises(ValueError, match="more than one row"):
        accumulate(weather, day, base_c=10)
    with pytest.raises(ValueError, match="ends before"):
        accumulate(weather.iloc[:1], "2025-07-01", base_c=10)
