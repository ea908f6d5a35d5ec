"""No silent loss: what is typed comes out as typed, or a problem names its line.

The expected value is made beside the text, from fractions and the definitions of the units, and
not by any reader. ``HARVESTCAST_FUZZ=5000`` in the environment makes it that many examples.
"""

import csv
import io
import os
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.importing.preview import read_foreign
from tests.records.conftest import GOOD

often = settings(
    max_examples=int(os.environ.get("HARVESTCAST_FUZZ", "40")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
# International avoirdupois pound (1959) and its sixteenth; exact by definition.
KG = {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": Fraction(45359237, 10**8)}
KG["oz"] = KG["lb"] / 16
COUNT = {"each": 1, "pieces": 1, "dozen": 12}


@dataclass(frozen=True)
class Typed:
    """A number, as it is and as it is typed."""

    value: Fraction
    text: str


@st.composite
def numbers(draw: st.DrawFn) -> Typed:
    whole, part = draw(st.integers(1, 90)), draw(st.sampled_from([0, 1, 5, 25, 50, 75]))
    value = whole + Fraction(part, 100)
    forms = [f"{whole}.{part:02d}", f"{whole},{part:02d}"] if part else [str(whole), f"{whole}.0"]
    if part in (25, 50, 75):
        n, d = Fraction(part, 100).as_integer_ratio()
        forms += [f"{whole} {n}/{d}", f"{whole}{ {25: '¼', 50: '½', 75: '¾'}[part] }"]
    return Typed(value, draw(st.sampled_from(forms)))


@dataclass(frozen=True)
class Amount:
    """An amount in some unit, typed beside it, behind it or in the heading."""

    heading: str
    cells: tuple[str, ...]
    count: Fraction | None
    kg: Fraction | None


@st.composite
def amounts(draw: st.DrawFn) -> Amount:
    typed = draw(numbers())
    unit = draw(st.sampled_from([*KG, *COUNT]))
    of = dict(KG) | dict(COUNT)
    count = typed.value * COUNT[unit] if unit in COUNT else None
    kg = typed.value * of[unit] if unit in KG else None
    where = draw(st.sampled_from(["beside", "behind", "heading"]))
    if where == "beside":
        heading = draw(st.sampled_from(["quantity", "amount", "weight_lb", "harvest"]))
        return Amount(f"{heading},unit", (typed.text, unit), count, kg)
    if where == "behind":
        return Amount("amount", (f"{typed.text} {unit}",), count, kg)
    heading = f"weight_{unit}" if unit in KG else "dozen" if unit == "dozen" else "count"
    return Amount(heading, (typed.text,), count, kg)


def table(heading: str, cells: tuple[str, ...], mark: str, quoted: bool) -> str:
    """Return a table of one row, with or without the quotation marks that it may need."""
    if not quoted:
        return f"{heading.replace(',', mark)}\n{mark.join(cells)}\n"
    text = io.StringIO()
    csv.writer(text, delimiter=mark, lineterminator="\n").writerows([heading.split(","), cells])
    return text.getvalue()


def workbook(path: Path, text: str, mark: str) -> None:
    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(text), delimiter=mark):
        book.worksheets[0].append(row)
    book.save(path)


def the_same(found: pd.Series, wanted: Fraction | None) -> bool:
    known = found.dropna().tolist()
    return known == ([] if wanted is None else [pytest.approx(float(wanted), rel=1e-6)])


marks = st.sampled_from([",", ";", "\t"])


@often
@given(amount=amounts(), mark=marks, quoted=st.booleans(), tail=st.sampled_from(["", "x", "4"]))
def test_amounts_of_picks_however_they_are_kept(
    amount: Amount, mark: str, quoted: bool, tail: str
) -> None:
    cells = ("2026-07-10", "cucumber", *amount.cells, *([tail] if tail else []))
    text = table(f"date,crop,{amount.heading}", cells, mark, quoted)
    with TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "picks.csv").write_text(text, "utf-8")
        (folder / "log.txt").write_text(text, "utf-8")
        try:
            workbook(folder / "log.xlsx", text, mark)
            logs = ["log.txt", "log.xlsx"]
        except csv.Error:
            logs = ["log.txt"]
        readings = []
        try:
            readings.append(open_garden(folder, today="2026-07-25").picks)
        except InputError as error:
            assert any(p.line == 2 for p in error.problems)
        for log in logs:
            preview = read_foreign(folder / log)
            if preview.problems:
                assert any(p.line == 2 for p in preview.problems)
                assert preview.picks.empty
            else:
                readings.append(preview.picks)
        for picks in readings:
            assert not tail, "a cell without a heading was lost"
            assert the_same(picks["count"], amount.count)
            assert the_same(picks["mass_kg"], amount.kg)


@often
@given(typed=numbers(), other=numbers(), unit=st.sampled_from([*KG, *COUNT]), mark=marks,
       quoted=st.booleans(), shape=st.sampled_from(["wide", "by_day", "wide_unit"]))  # fmt: skip
def test_amounts_of_wide_tables(
    typed: Typed, other: Typed, unit: str, mark: str, quoted: bool, shape: str
) -> None:
    heading, first = {
        "wide": (f"date,Cucumbers ({unit}),Tomatoes ({unit})", ("2026-07-10",)),
        "wide_unit": ("date,unit,Cucumbers,Tomatoes", ("2026-07-10", unit)),
        "by_day": ("crop,unit,2026-07-10,2026-07-11", ("cucumber", unit)),
    }[shape]
    with TemporaryDirectory() as place:
        log = Path(place) / "log.csv"
        log.write_text(table(heading, (*first, typed.text, other.text), mark, quoted), "utf-8")
        preview = read_foreign(log)
    if preview.problems:
        assert any(p.line == 2 for p in preview.problems)
        return
    factor = Fraction(COUNT[unit]) if unit in COUNT else KG[unit]
    column = "count" if unit in COUNT else "mass_kg"
    wanted = [float(number.value * factor) for number in (typed, other)]
    assert preview.picks[column].tolist() == pytest.approx(wanted, rel=1e-6)


@often
@given(low=numbers(), warmer=st.integers(1, 9), unit=st.sampled_from(["c", "f"]), mark=marks,
       quoted=st.booleans(), beside=st.booleans(), forecast=st.booleans())  # fmt: skip
def test_temperatures(
    low: Typed, warmer: int, unit: str, mark: str, quoted: bool, beside: bool, forecast: bool
) -> None:
    if low.value > 40:
        return  # no place on earth; refused, rightly, in degrees C
    high = low.value + warmer
    heading = "date,tmin,tmax,unit" if beside else f"date,tmin_{unit},tmax_{unit}"
    cells = ("2026-07-10", low.text, f"{float(high):g}", *([unit.upper()] if beside else []))
    name = "weather-forecast.csv" if forecast else "weather.csv"
    with TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "picks.csv").write_text(GOOD["picks.csv"])
        (folder / name).write_text(table(heading, cells, mark, quoted), "utf-8")
        problems, _ = check_garden(folder, today="2026-07-25")
        if problems:
            assert any((p.file, p.line) == (name, 2) for p in problems)
            return
        weather = open_garden(folder, today="2026-07-25").weather
    for column, value in (("tmin_c", low.value), ("tmax_c", high)):
        celsius = (value - 32) * 5 / 9 if unit == "f" else value
        assert weather[column].tolist() == pytest.approx([float(celsius)], abs=1e-3)


@often
@given(number=numbers(), unit=st.sampled_from([*KG, "pint", ""]), mark=marks,
       quoted=st.booleans(), book=st.booleans())  # fmt: skip
def test_plantings_and_pantry(
    number: Typed, unit: str, mark: str, quoted: bool, book: bool
) -> None:
    lengths = {"kg": "ft", "g": "m", "lb": "in", "oz": "cm", "pint": "pint", "": ""}
    metres = {"ft": Fraction(3048, 10**4), "m": Fraction(1), "in": Fraction(254, 10**4),
              "cm": Fraction(1, 100)}  # fmt: skip
    planted = ("cucumber", "2026-05-20", "sown", number.text, lengths[unit])
    kept = ("2026-07-15", "dill pickles", "pint", number.text, number.text, unit)
    with TemporaryDirectory() as place:
        folder = Path(place)
        for stem, heading, cells in (
            ("plantings", "crop,date,how,row,unit", planted),
            ("pantry", "date,product,jar,change,produce,unit", kept),
        ):
            text = table(heading, cells, mark, quoted)
            if book and quoted:
                workbook(folder / f"{stem}.xlsx", text, mark)
            else:
                (folder / f"{stem}.csv").write_text(text, "utf-8")
        problems, _ = check_garden(folder, today="2026-07-25")
        wrong = {p.file.split(".")[0] for p in problems if p.line == 2}
        assert len({p.file.split(".")[0] for p in problems} - wrong) == 0
        if unit in ("pint", ""):
            assert wrong == {"plantings", "pantry"}
        if wrong:
            return
        garden = open_garden(folder, today="2026-07-25")
    assert the_same(garden.plantings["row_m"], number.value * metres[lengths[unit]])
    assert the_same(garden.pantry["produce_kg"], number.value * KG[unit])
    assert the_same(garden.pantry["change"], number.value)
