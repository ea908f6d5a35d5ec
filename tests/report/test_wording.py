"""Amounts in the household's units, against published conversion factors."""

import pandas as pd
import pytest

from harvestcast.report.season import measures

# NIST Special Publication 811 (2008), appendix B.8: pound to kilogram, psi to kilopascal, foot.
from harvestcast.words import amounts as wording

# NIST Special Publication 811 (2008), appendix B.8: pound to kilogram, psi to kilopascal, foot.
LB_KG, PSI_KPA, FT_M = 0.45359237, 6.894757, 0.3048


@pytest.mark.parametrize("kg", [0.2, 1.0, 3.7, 45.0, 1200.0])
def test_pounds_are_avoirdupois_pounds(kg: float) -> None:
    assert wording.in_mass_unit(kg, "us") * LB_KG == pytest.approx(kg, rel=1e-12)
    number, unit = wording.mass(kg, "us").split(" ")
    said = float(number.replace(",", "")) * (LB_KG / 16 if unit == "oz" else LB_KG)
    assert said == pytest.approx(kg, rel=0.06)  # two figures: at most half of the last one


def test_unknown_is_said_and_never_zero() -> None:
    for said in (
        wording.mass(float("nan"), "us"),
        wording.mass(None, "metric"),
        wording.hours(float("nan")),
        wording.chance(float("nan")),
        wording.day(pd.NaT, "us"),
        wording.long_day(pd.NaT, "us"),
        wording.count(float("nan")),
        wording.elevation(None, "us"),
        wording.mass_range(float("nan"), 2.0, "us"),
    ):
        assert said == "not known"
    assert wording.minutes(None) == wording.pressure(None, "us") == wording.headspace(None, "us")
    assert wording.minutes(None) == ""


@pytest.mark.parametrize("psi", [5, 10, 11, 12, 13, 14, 15])
def test_a_pressure_in_kilopascals_is_never_below_the_tested_one(psi: int) -> None:
    said = wording.pressure(psi, "metric")
    kpa = int(said.split("(")[1].split(" ")[0])
    assert kpa >= psi * PSI_KPA - 1e-9
    assert kpa < psi * PSI_KPA + 1
    assert wording.pressure(psi, "us") == f"{psi} psi"


@pytest.mark.parametrize(
    ("inches", "us"),
    [(0.25, "1/4 in"), (0.5, "1/2 in"), (1.0, "1 in"), (1.25, "1 1/4 in"), (0.125, "1/8 in")],
)
def test_headspace_stays_the_fraction_of_the_table(inches: float, us: str) -> None:
    assert wording.headspace(inches, "us") == us
    metric = wording.headspace(inches, "metric")
    assert us in metric
    assert abs(int(metric.split(" ")[0]) - 25.4 * inches) <= 0.5


def test_dates_in_the_order_of_the_units() -> None:
    assert wording.day("2026-07-04", "us") == "Sat Jul 4"
    assert wording.day("2026-07-04", "metric") == "Sat 4 Jul"


def test_hours_round_up_to_whole_hours() -> None:
    assert wording.hours(1.999) == "2 h"
    assert wording.hours(0.01) == "1 min"
    assert wording.hours(2.55) == "2 h 35 min"


def test_no_certainty_is_claimed_at_the_ends() -> None:
    assert wording.chance(1.0) == "over 99%"
    assert wording.chance(0.0) == "under 1%"


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("kg", 1 / LB_KG),
        ("kg/m", FT_M / LB_KG),
        ("kg/m2", FT_M**2 / LB_KG),
        ("degC d", 1.8),
        ("m2", 1 / FT_M**2),
        ("h/kg", 60 * LB_KG),
    ],
)
def test_measures_convert_as_published(unit: str, factor: float) -> None:
    assert measures.in_measure_unit(2.0, unit, "us") == pytest.approx(2.0 * factor, rel=1e-12)
    assert measures.measure_unit(unit, "us") != measures.measure_unit(unit, "metric")


def test_typed_text_loses_control_and_direction_marks() -> None:
    assert wording.clean("a\x00b\r\nc\u202ed\u2066e") == "a b cde"
    assert wording.clean("Jalape\N{LATIN SMALL LETTER N WITH TILDE}o \U0001f336") == (
        "Jalape\N{LATIN SMALL LETTER N WITH TILDE}o \U0001f336"
    )


def test_no_own_word_needs_more_than_ascii() -> None:
    said = [
        wording.mass(3.2, "us"),
        wording.mass_range(0.1, 3.0, "metric"),
        wording.hours(1.5),
        wording.chance(0.5),
        wording.day("2026-07-04", "us"),
        wording.headspace(0.25, "metric"),
        wording.pressure(11, "metric"),
    ]
    assert all(words.isascii() for words in said)
