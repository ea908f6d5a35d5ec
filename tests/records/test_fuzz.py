"""No file makes a traceback: it is read, or its problems are said in whole sentences.

The ordinary run tries a few dozen files a test; ``HARVESTCAST_FUZZ=20000`` in the
environment makes it that many.
"""

import datetime as dt
import io
import json
import os
import tomllib
import zipfile
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from xml.sax.saxutils import escape

import openpyxl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from harvestcast.errors import InputError
from harvestcast.frames import PICKS, check_frame
from harvestcast.records.garden import check_garden
from harvestcast.records.importing.preview import read_foreign
from harvestcast.records.importing.write import import_into
from harvestcast.records.messages import MESSAGES
from harvestcast.records.settings import parse_household
from harvestcast.records.tables.findings import Findings
from harvestcast.records.typed.numbers import parse_amount
from harvestcast.records.writing.add import add_pick, undo_last
from harvestcast.records.writing.start import start_garden
from tests.records.conftest import GOOD

TIMES = int(os.environ.get("HARVESTCAST_FUZZ", "25"))
fuzz = settings(
    max_examples=TIMES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
TODAY = "2026-07-25"
FILES = [*GOOD, "picks-2025.csv", "weather-forecast.csv", "weather.dly", "picks.xlsx", "picks.ods"]

words = st.sampled_from(
    [
        "date",
        "crop",
        "variety",
        "count",
        "weight_kg",
        "weight",
        "weight_lb",
        "unit",
        "grade",
        "note",
        "tmin_c",
        "tmax_c",
        "tmin_f",
        "rain_in",
        "kind",
        "issued",
        "how",
        "plants",
        "removed",
        "product",
        "change",
        "cucumber",
        "tomatoes",
        "squash",
        "okra",
        "sown",
        "set_out",
        "good",
        "oversize",
        "forecast",
        "2026-07-05",
        "7/5/2026",
        "5.7.2026",
        "2062-01-01",
        "1900-01-01",
        "2026-02-29",
        "45000",
        "0",
        "-1",
        "1,234",
        "1.5",
        "1/2",
        "none",
        "1e308",
        "-9999",
        "NaN",
        "inf",
        "T",
        "M",
        "kg",
        "lb",
        "dozen",
        "#REF!",
        "=1+1",
        "STATION",
        "TMAX",
        "TMIN",
        "TMAX_ATTRIBUTES",
        '"',
        "'",
        ";",
        "|",
        "XX000000001",
        "20260705",
        "total",
        "Datum",
        "Gem\u00fcse",
        "St\u00fcckzahl",
        "nombre",
        "Summe",
        "oinons",
        "5200",
        "basket 2",
        '""',
        "〃",
        "½",
    ]
)
cells = st.one_of(words, st.text(max_size=12), st.integers(-(10**20), 10**20).map(str))
rows = st.lists(cells, max_size=9)
marks = st.sampled_from(list(",;\t|"))


@st.composite
def delimited(draw: st.DrawFn) -> bytes:
    """Return a table of likely and unlikely cells in some hand."""
    mark, end = draw(marks), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    body = draw(st.lists(rows, max_size=12))
    text = end.join(mark.join(row) for row in body)
    head = draw(st.sampled_from(["", *(GOOD[f"{s}.csv"] for s in ("picks", "weather"))]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))
    return (head + text).encode(encoding, "replace")


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """Return a sound file with bytes changed, cut out or doubled."""
    content = bytearray(whole)
    for _ in range(draw(st.integers(1, 6))):
        place = draw(st.integers(0, max(len(content) - 1, 0)))
        change = draw(st.sampled_from(["set", "cut", "insert", "double"]))
        if change == "set" and content:
            content[place] = draw(st.integers(0, 255))
        elif change == "cut":
            del content[place : place + draw(st.integers(1, 40))]
        elif change == "insert":
            content[place:place] = draw(st.binary(max_size=20))
        else:
            content[place:place] = content[place : place + 60]
    return bytes(content)


def _workbook() -> bytes:
    book = openpyxl.Workbook()
    for line in GOOD["picks.csv"].splitlines():
        book.worksheets[0].append(line.split(","))
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


WORKBOOK = _workbook()


@st.composite
def damaged_workbook(draw: st.DrawFn) -> bytes:
    """Return a workbook one part of which is damaged, packed again so that it opens."""
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = draw(st.sampled_from(sorted(parts)))
    parts[name] = draw(damaged(parts[name]))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as packed:
        for part, content in parts.items():
            packed.writestr(part, content)
    return buffer.getvalue()


values = st.one_of(
    cells.filter(lambda text: not ILLEGAL_CHARACTERS_RE.search(text)),
    st.none(),
    st.booleans(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.dates(dt.date(1900, 3, 1), dt.date(9999, 12, 31)),
    st.times(),
)


@st.composite
def whole_workbook(draw: st.DrawFn) -> bytes:
    """Return a sound workbook of likely and unlikely cells of every type, far ones among them."""
    book = openpyxl.Workbook()
    for sheet in [
        book.worksheets[0],
        *(book.create_sheet() for _ in range(draw(st.integers(0, 2)))),
    ]:
        stem = draw(st.sampled_from(["picks", "weather", "plantings", "pantry"]))
        if draw(st.booleans()):
            sheet.append(GOOD[f"{stem}.csv"].split("\n")[0].split(","))
        for row in draw(st.lists(st.lists(values, max_size=9), max_size=8)):
            sheet.append(row)
        if draw(st.booleans()):
            place = draw(st.tuples(st.integers(1, 2000), st.integers(1, 700)))
            sheet.cell(*place).value = draw(values)
        sheet.sheet_state = draw(st.sampled_from(["visible", "visible", "hidden"]))
    book.worksheets[0].sheet_state = "visible"
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


@st.composite
def whole_ods(draw: st.DrawFn) -> bytes:
    """Return a document with cells of any kind, repeats of any size, comments and nesting."""
    word = st.text(st.characters(min_codepoint=32, max_codepoint=0x24F), max_size=8).map(escape)
    repeats = st.sampled_from(["", "1", "3", "1000", "999999999", "-1", "x", "1e3"])
    kinds = st.sampled_from(["", "float", "date", "string", "currency", "boolean", "time"])
    rows = ""
    for _ in range(draw(st.integers(0, 5))):
        line = ""
        for _ in range(draw(st.integers(0, 5))):
            kind, said = draw(kinds), draw(st.one_of(words.map(escape), word)).replace('"', "")
            line += (
                f'<table:table-cell office:value-type="{kind}" office:value="{said}" '
                f'office:date-value="{said}" table:number-columns-repeated="{draw(repeats) or 1}">'
                f"<office:annotation><text:p>{draw(word)}</text:p></office:annotation>"
                f"<text:p>{said}<text:s/>{draw(word)}</text:p></table:table-cell>"
            )
        rows += f'<table:table-row table:number-rows-repeated="{draw(repeats) or 1}">{line}'
        rows += "</table:table-row>"
    spaces = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("table", "text", "office")
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as packed:
        packed.writestr("content.xml", f"<x{spaces}><table:table>{rows}</table:table></x>")
    return buffer.getvalue()


contents = st.one_of(
    st.binary(max_size=300),
    whole_workbook(),
    whole_ods(),
    delimited(),
    damaged(GOOD["picks.csv"].encode()),
    damaged(GOOD["weather.csv"].encode()),
    damaged(GOOD["plantings.csv"].encode()),
    damaged(WORKBOOK),
    damaged_workbook(),
)


def as_json(facts: Mapping[str, Any]) -> str:
    """Return facts as JSON; of what JSON does not know there may be dates only."""
    return json.dumps(dict(facts), default=dt.date.isoformat, allow_nan=False)


def said_properly(folder: Path) -> None:
    problems, notices = check_garden(folder, today=TODAY)
    for problem in problems:
        assert problem.file and problem.rule and problem.cure
        assert "Traceback" not in str(problem) and "Error" not in problem.rule
        assert problem.code in MESSAGES and as_json(problem.facts)
    assert notices["odd"].notna().all() and notices["done"].notna().all()
    assert notices["code"].isin(list(MESSAGES)).all()
    assert all(as_json(facts) for facts in notices["facts"])


def settings_said_properly(text: str) -> None:
    findings = Findings()
    household = parse_household(text, findings)
    for problem in findings.problems:
        assert problem.file and problem.rule and problem.cure and problem.code in MESSAGES
    assert findings.problems or household.people > 0


def folder_with(place: str, **files: bytes) -> Path:
    folder = Path(place)
    for name, text in GOOD.items():
        (folder / name).write_bytes(files.get(name, text.encode()))
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return folder


@fuzz
@given(name=st.sampled_from(FILES), content=contents)
def test_any_file_in_a_folder(name: str, content: bytes) -> None:
    with TemporaryDirectory() as place:
        said_properly(folder_with(place, **{name: content}))


@fuzz
@given(
    text=st.one_of(
        st.text(max_size=200),
        damaged(GOOD["garden.toml"].encode()).map(lambda b: b.decode("utf-8", "replace")),
        st.recursive(
            st.one_of(words, st.integers().map(str), st.booleans().map(str)),
            lambda inner: st.lists(inner, max_size=3).map(lambda x: f"[{', '.join(x)}]"),
            max_leaves=8,
        ).map(lambda value: f"people = {value}\ncrops = {value}\n[equipment]\nkind = {value}\n"),
    )
)
def test_any_settings(text: str) -> None:
    settings_said_properly(text)


@fuzz
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["", "[crops.cucumber]", "[crops.x]", "[[equipment]]", "[jars]",
                             "[targets]", "[hours]", "[stock]", "[choices]"]),
            st.text(st.sampled_from("ab_.-\"' 1ft"), min_size=1, max_size=10),
            st.one_of(words, st.integers().map(str), st.floats().map(str),
                      st.text(max_size=8).map(lambda text: f'"{text}"')),
        ),
        max_size=20,
    )
)  # fmt: skip
def test_any_groups_of_settings(lines: list[tuple[str, str, str]]) -> None:
    text = "".join(f"{group}\n{key} = {value}\n" for group, key, value in lines)
    settings_said_properly(text)


KEYS = st.sampled_from(
    [
        "place",
        "elevation_m",
        "elevation_ft",
        "units",
        "people",
        "last_frost",
        "day_without_row",
        "date_order",
        "crops",
        "equipment",
        "hours",
        "jars",
        "stock",
        "targets",
        "choices",
        "bed_area_ft2",
        "unknown",
    ]
)
VALUES = st.sampled_from(
    [
        '"us"', "3", "-1", "1e400", "nan", "true", '"05-20"', "[]", "{}", "[1, 2]",
        "2026-07-05", "{monday = 2}", "{monday = [1]}", "[{}]", '[{kind = "dryer"}]',
        '{cucumber = {fruit_kg = 0}}', '{Cucumbers = 1, cucumber = 2}', '{"" = {}}',
        '{cucumber = {aliases = [1]}}', '{pint = -1}', "{x = {y = {z = {}}}}",
    ]
)  # fmt: skip


@fuzz
@given(st.lists(st.tuples(KEYS, VALUES), max_size=8, unique_by=lambda pair: pair[0]))
def test_any_value_of_any_setting(pairs: list[tuple[str, str]]) -> None:
    text = "".join(f"{key} = {value}\n" for key, value in pairs)
    tomllib.loads(text)  # the file itself is sound; only what it says is not
    settings_said_properly(text)


@fuzz
@given(
    name=st.sampled_from(["log.csv", "log.txt", "log.xlsx", "log.ods", "log.tsv"]),
    content=contents,
    unit=st.sampled_from([None, "each", "lb"]),
    order=st.sampled_from([None, "day_first"]),
)
def test_any_foreign_file(name: str, content: bytes, unit: str | None, order: str | None) -> None:
    with TemporaryDirectory() as place:
        path = Path(place) / name
        path.write_bytes(content)
        preview = read_foreign(path, unit=unit, date_order=order)  # type: ignore[arg-type]
        check_frame(preview.picks, PICKS)
        # Every line is accounted for: none that bears picks is missing from the preview.
        assert set(preview.picks["line"]) <= set(preview.lines["line"])
        unread = preview.lines["became"].isin(["not read"]).any()
        assert not unread or preview.problems


@fuzz
@given(content=contents, unit=st.sampled_from([None, "each", "g"]))
def test_any_import_is_taken_back_whole(content: bytes, unit: str | None) -> None:
    """Whatever was understood is written, reads back, and is gone after one step back."""
    with TemporaryDirectory() as place:
        folder = folder_with(place)
        before = {path.name: path.read_bytes() for path in folder.iterdir()}
        log = folder / "log.txt"
        log.write_bytes(content)
        preview = read_foreign(log, folder=folder, unit=unit)  # type: ignore[arg-type]
        log.unlink()
        done = import_into(folder, preview, leave_out_unread=True)
        assert done.picks + done.twice >= 0 and (done.picks > 0) == bool(done.file)
        if done.file:
            undo_last(folder)
        hidden = (".harvestcast-lock", ".harvestcast-entries")
        after = {p.name: p.read_bytes() for p in folder.iterdir() if p.name not in hidden}
        assert after == before


@fuzz
@given(crop=cells, amount=cells, variety=cells, on=cells, weight=cells, note=st.text(max_size=30))
def test_any_words_to_add(
    crop: str, amount: str, variety: str, on: str, weight: str, note: str
) -> None:
    with TemporaryDirectory() as place:
        folder = folder_with(place)
        before = (folder / "picks.csv").read_bytes()
        try:
            entry = add_pick(
                folder, crop, amount, variety=variety, on=on, weight=weight, note=note,
                new_crop=True, today=dt.date(2026, 7, 25),
            )  # fmt: skip
        except InputError as error:
            assert error.problems
            assert (folder / "picks.csv").read_bytes() == before
            return
        problems, _ = check_garden(folder, today=TODAY)
        assert problems == ()
        undo_last(folder)
        assert (folder / "picks.csv").read_bytes() == before
        assert entry.says


@fuzz
@given(text=st.text(max_size=40), unit=st.sampled_from([None, "each", "kg"]))
def test_any_amount_is_read_as_no_less_than_nothing_or_refused(text: str, unit: str | None) -> None:
    try:
        count, mass = parse_amount(text, unit)
    except ValueError as error:
        assert str(error)
    else:
        assert (count is not None) or (mass is not None)
        assert (count or 0) >= 0 and (mass or 0) >= 0


@fuzz
@given(
    place=st.text(max_size=60),
    elevation=st.one_of(st.none(), st.floats()),
    people=st.floats(),
    crops=st.lists(st.text(max_size=20), max_size=4),
    frost=st.one_of(st.none(), cells, st.sampled_from(["10 May", "May 10", "29 Feb", "31 June"])),
    equipment=st.lists(
        st.one_of(st.text(max_size=20), st.sampled_from(["dial pressure canner", "fridge"])),
        max_size=3,
    ),
)
def test_any_beginning(
    place: str,
    elevation: float | None,
    people: float,
    crops: list[str],
    frost: str | None,
    equipment: list[str],
) -> None:
    with TemporaryDirectory() as home:
        folder = Path(home) / "g"
        try:
            start_garden(
                folder, place=place, elevation_m=elevation, people=people, crops=crops,
                last_frost=frost, equipment=equipment,
            )  # fmt: skip
        except InputError:
            assert not folder.exists()
        else:
            assert check_garden(folder, today=TODAY)[0] == ()
