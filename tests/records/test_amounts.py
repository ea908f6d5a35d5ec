"""Amounts as people type them. Unit sizes: NIST Special Publication 811 (2008), appendix B.8."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvestcast.records.typed.numbers import KG, decimal_style, parse_amount, parse_number, unit_of
from harvestcast.records.writing.one_pick import number_text
from tests.records.conftest import refused

# NIST SP 811 (2008), appendix B.8: pound (avoirdupois) 4.535924 E-01 kg, ounce (avoirdupois)
# 2.834952 E-02 kg; written from memory.
NIST = {"lb": 0.4535924, "oz": 0.02834952}


@pytest.mark.parametrize("unit", sorted(NIST))
def test_units_of_mass_agree_with_the_published_factors(unit: str) -> None:
    assert KG[unit] == pytest.approx(NIST[unit], rel=2e-7)


@pytest.mark.parametrize(
    ("typed", "unit", "count", "mass_kg"),
    [
        ("34", "each", 34, None),
        ("2 dozen", "each", 24, None),
        ("a dozen", "each", 12, None),
        ("half a dozen", "each", 6, None),
        ("2 dozen and 3", "each", 27, None),
        ("three heads", "each", 3, None),
        ("none", None, 0, None),
        ("0", None, 0, None),
        ("about 12", "each", 12, None),
        ("3 lb 4 oz", None, None, 3.25 * 0.45359237),
        ("3lb4oz", None, None, 3.25 * 0.45359237),
        ("3 lbs, 4 oz.", None, None, 3.25 * 0.45359237),
        ("5.2lb", "each", None, 5.2 * 0.45359237),
        ("1/2 kg", None, None, 0.5),
        ("½ kg", None, None, 0.5),
        ("1½ lb", None, None, 1.5 * 0.45359237),
        ("1 1/2 lb", None, None, 1.5 * 0.45359237),
        ("half a kilo", None, None, 0.5),
        ("1,5", "kg", None, 1.5),
        ("750 g", None, None, 0.75),
        ("1 kg 200 g", None, None, 1.2),
        ("1.200 kg", None, None, 1.2),
        ("1200 g", None, None, 1.2),
        ("1.25 g", None, None, 0.00125),
        ("0.125 g", None, None, 0.000125),
    ],
)
def test_short_forms(typed: str, unit: str | None, count: float, mass_kg: float) -> None:
    found = parse_amount(typed, unit)
    assert found[0] == (None if count is None else pytest.approx(count))
    assert found[1] == (None if mass_kg is None else pytest.approx(mass_kg, rel=1e-12))


@pytest.mark.parametrize(
    ("typed", "unit", "code", "facts"),
    [
        ("5", None, "number.no_unit", []),
        ("-3", "each", "amount.negative", []),
        ("12-15", "each", "amount.unreadable", []),
        ("3 baskets", "each", "amount.volume", ["baskets"]),
        ("34 5.2lb", "each", "amount.two_numbers", []),
        ("5 lb 3 lb", None, "amount.unit_twice", ["lb"]),
        ("1.200 g", "each", "number.decimal", ["1.200", "1200"]),
        ("1,200 g", "each", "number.decimal", ["1.200", "1200"]),
        ("1.200 oz", None, "number.decimal", ["1.200", "1200"]),
        ("1.200", "g", "number.decimal", ["1.200", "1200"]),
        ("kg", "each", "amount.bare_unit", ["kg"]),
        ("3 stone", None, "amount.unknown_unit", ["stone"]),
        ("", "each", "amount.unreadable", []),
        ("1/0 kg", None, "number.divides_by_zero", []),
        ("1,234", "each", "number.decimal", ["1.234", "1234"]),
        ("9" * 30, "each", "amount.too_large", []),
        ("nan", "each", "amount.unknown_unit", ["nan"]),
    ],
)
def test_what_cannot_be_read_says_why(
    typed: str, unit: str | None, code: str, facts: list[str]
) -> None:
    with refused(code) as caught:
        parse_amount(typed, unit)
    assert list(caught.value.facts.values()) == facts  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("typed", "decimal", "value"),
    [
        ("1.234", "point", 1.234),
        ("1,234", "point", 1234),
        ("1,234", "comma", 1.234),
        ("1.234", "comma", 1234),
        ("1.234,5", "unknown", 1234.5),
        ("1,234.5", "unknown", 1234.5),
        ("1,234,567", "unknown", 1234567),
        ("1 234,5", "unknown", 1234.5),
        ("1'234.5", "unknown", 1234.5),
        ("0,125", "unknown", 0.125),
        ("1.234", "unknown", 1.234),
        ("12,5", "point", 12.5),
        ("1e-05", "unknown", 1e-5),
        ("+3", "unknown", 3),
    ],
)
def test_decimal_marks(typed: str, decimal: str, value: float) -> None:
    assert parse_number(typed, decimal) == pytest.approx(value)  # type: ignore[arg-type]


@pytest.mark.parametrize("typed", ["1.234", "1,234"])
def test_a_file_that_may_have_either_mark_is_asked(typed: str) -> None:
    with refused("number.decimal"):
        parse_number(typed, "unsure")


@pytest.mark.parametrize("typed", ["1,2,3", "1.2.3", "--1", "1,23.4,5", "٣", "1 2", "e5", "0x10"])
def test_no_numbers(typed: str) -> None:
    with refused("number.unreadable"):
        parse_number(typed)


@given(
    st.floats(0, 1e5, allow_nan=False),
    st.sampled_from(["point", "comma"]),
)
def test_a_number_written_down_reads_back(value: float, mark: str) -> None:
    text = number_text(value, comma=mark == "comma")
    for style in (mark, "unknown", "unsure") if mark == "comma" else (mark, "unknown"):
        assert parse_number(text, style) == pytest.approx(value, abs=5.1e-5)  # type: ignore[arg-type]


@given(st.lists(st.floats(0.1, 99, allow_nan=False), min_size=1, max_size=8))
def test_the_mark_of_a_column_is_found(values: list[float]) -> None:
    points = [f"{value:.2f}" for value in values]
    assert decimal_style(points) == "point"
    assert decimal_style([p.replace(".", ",") for p in points]) == "comma"
    assert decimal_style([*points, "1,5"]) == "unknown"


@pytest.mark.parametrize(("word", "unit"), [("Pounds", "lb"), ("°C", "degC"), ("inches", "in")])
def test_unit_words(word: str, unit: str) -> None:
    assert unit_of(word) == unit
