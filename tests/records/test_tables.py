"""Any table file is read, within limits, or refused with a word."""

import datetime as dt
import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table as OdfTable
from odf.table import TableCell, TableRow
from odf.text import P

from harvestcast.errors import InputError
from harvestcast.records.tables import spreadsheets as workbooks
from harvestcast.records.tables import text as tables
from harvestcast.records.tables.spreadsheets import MOST_UNPACKED, read_tables
from harvestcast.records.tables.text import MOST_BYTES, parse_text, read_bytes
from tests.records.conftest import refused

ROWS = (
    ("date", "crop", "variety", "count", "weight_kg"),
    ("2026-07-10", "cucumber", "Blå Ärta", "4", "1.25"),
    ("2026-07-11", "cucumber", "", "", "0.5"),
)


def code_of(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_tables(path)
    assert len(caught.value.problems) == 1
    return caught.value.problems[0].code


@pytest.mark.parametrize("mark", list(",;\t|"))
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_text_in_every_hand(mark: str, encoding: str, end: str) -> None:
    content = (end.join(mark.join(row) for row in ROWS) + end).encode(encoding)
    table = parse_text(content, "picks.csv")
    assert (table.heading, *(cells for _, cells in table.rows)) == ROWS
    assert [line for line, _ in table.rows] == [2, 3]
    assert table.shape is not None and table.shape.delimiter == mark
    assert table.shape.newline == end and table.shape.closed
    plain = content.removeprefix(table.shape.bom)
    assert plain.decode(table.shape.encoding) == end.join(mark.join(r) for r in ROWS) + end


def test_quoted_cells_and_line_numbers() -> None:
    table = parse_text(
        b'date,crop,note\n\n2026-07-10,okra,"a, b\nand ""c"""\n2026-07-11,okra,x\n', "p"
    )
    assert table.rows[0] == (3, ("2026-07-10", "okra", 'a, b\nand "c"'))
    assert table.rows[1][0] == 5


def test_lines_above_the_heading_are_told() -> None:
    table = parse_text(b"Harvest 2026\n,,\ndate,crop,count\n2026-07-10,okra,3\n", "p")
    assert table.heading_line == 3 and table.skipped == ((1, "Harvest 2026"),)


def xlsx(path: Path) -> Path:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(ROWS[0])
    sheet.append((dt.datetime(2026, 7, 10), "cucumber", "Blå Ärta", 4, 1.25))
    sheet.append((dt.date(2026, 7, 11), "cucumber", None, None, 0.5))
    book.save(path)
    return path


def ods(path: Path) -> Path:
    """Written by an independent library."""
    document = OpenDocumentSpreadsheet()
    table = OdfTable(name="picks")
    for row in ROWS:
        line = TableRow()
        for column, text in enumerate(row):
            if row is not ROWS[0] and column == 0:
                cell = TableCell(valuetype="date", datevalue=text)
            elif row is not ROWS[0] and column > 2 and text:
                cell = TableCell(valuetype="float", value=text)
            else:
                cell = TableCell(valuetype="string") if text else TableCell()
            if text:
                cell.addElement(P(text=text))
            line.addElement(cell)
        line.addElement(TableCell(numbercolumnsrepeated=1000))
        table.addElement(line)
    empty = TableRow(numberrowsrepeated=1048000)
    empty.addElement(TableCell(numbercolumnsrepeated=1024))
    table.addElement(empty)
    document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


@pytest.mark.parametrize("writer", [xlsx, ods])
def test_workbooks(writer: object, tmp_path: Path) -> None:
    path = writer(tmp_path / f"log.{writer.__name__}")  # type: ignore[operator, attr-defined]
    (table,) = read_tables(path)
    width = len(ROWS[0])
    rows = [tuple([*cells, *[""] * width][:width]) for _, cells in table.rows]
    assert (table.heading, *rows) == ROWS


def test_hidden_sheets_are_passed_over_unless_asked_for(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["date", "crop", "count"])
    hidden = book.create_sheet("lists")
    hidden.append(["okra"])
    hidden.sheet_state = "hidden"
    book.save(tmp_path / "log.xlsx")
    assert [t.sheet for t in read_tables(tmp_path / "log.xlsx")] == ["Sheet"]
    assert len(read_tables(tmp_path / "log.xlsx", hidden=True)) == 2


def test_a_formula_without_a_stored_result_is_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["date", "crop", "count"])
    book.worksheets[0].append(["2026-07-10", "okra", "=1+2"])
    book.save(tmp_path / "log.xlsx")
    assert code_of(tmp_path / "log.xlsx") == "sheet.formula"


def test_a_formula_with_a_stored_result_is_read(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "log.xlsx")
    parts = {}
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"]
    assert b"<v>4</v>" in sheet
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b"<v>4</v>", b"<f>2+2</f><v>4</v>")
    with zipfile.ZipFile(path, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    (table,) = read_tables(path)
    assert table.rows[0][1][3] == "4"


def bomb(path: Path, member: str) -> Path:
    block = b" " * (1 << 20)
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed,
        packed.open(member, "w", force_zip64=True) as part,
    ):
        for _ in range(MOST_UNPACKED // len(block) + 1):
            part.write(block)
    return path


@pytest.mark.parametrize("name", ["log.xlsx", "log.ods"])
def test_a_packed_bomb_is_refused_unopened(name: str, tmp_path: Path) -> None:
    path = bomb(tmp_path / name, "content.xml" if name.endswith("ods") else "xl/workbook.xml")
    assert path.stat().st_size < 200_000
    assert code_of(path) == "sheet.unpacked"


def test_a_bomb_that_lies_about_its_size_is_cut_off(tmp_path: Path) -> None:
    path = bomb(tmp_path / "log.ods", "content.xml")
    content = bytearray(path.read_bytes())
    # The size unpacked stands 24 bytes into the entry of the central directory (APPNOTE 4.3.12).
    entry = content.find(b"PK\x01\x02")
    content[entry + 24 : entry + 28] = (1000).to_bytes(4, "little")
    path.write_bytes(bytes(content))
    assert code_of(path) == "sheet.none"


def test_entities_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.ods"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("content.xml", '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aa">]><x/>')
    assert code_of(path) == "sheet.not_plain"


def test_rows_that_claim_to_be_repeated_without_end(tmp_path: Path) -> None:
    table = "urn:oasis:names:tc:opendocument:xmlns:table:1.0"
    text = "urn:oasis:names:tc:opendocument:xmlns:text:1.0"
    for rows, columns in ((10**9, 1), (1, 10**9)):
        path = tmp_path / f"log-{rows}.ods"
        with zipfile.ZipFile(path, "w") as packed:
            packed.writestr(
                "content.xml",
                f'<x xmlns:table="{table}" xmlns:text="{text}"><table:table>'
                f'<table:table-row table:number-rows-repeated="{rows}">'
                f'<table:table-cell table:number-columns-repeated="{columns}">'
                "<text:p>date</text:p></table:table-cell></table:table-row></table:table></x>",
            )
        assert code_of(path) in ("table.lines", "table.columns")


def test_a_row_far_below_the_sheet_is_refused(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "log.xlsx")
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"]
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b'<row r="3"', b'<row r="99999999999"')
    with zipfile.ZipFile(path, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    assert code_of(path) == "sheet.too_many"


def test_a_large_file_is_refused_without_being_read(tmp_path: Path) -> None:
    path = tmp_path / "picks.csv"
    with path.open("wb") as file:
        file.truncate(200 * 1024**2)  # sparse: nothing of it is written
    assert code_of(path) == "file.too_large"


def test_a_packed_file_is_unpacked_within_the_same_limit(tmp_path: Path) -> None:
    import gzip

    path = tmp_path / "weather.csv.gz"
    path.write_bytes(gzip.compress(b" " * (MOST_BYTES + 1)))
    assert path.stat().st_size < 100_000
    with refused("file.too_large"):
        read_bytes(path)


def test_too_many_lines_columns_and_letters(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "MOST_ROWS", 10)
    for content, code in (
        ("date,crop\n" + "1,2\n" * 20, "table.lines"),
        ("date,crop\n" + "," * 600 + "x\n", "table.columns"),
        ("date,crop\n1," + "x" * 10_001 + "\n", "table.cell"),
        ("date,crop\n1," + "x" * 200_000 + "\n", "table.broken"),
    ):
        path = tmp_path / "picks.csv"
        path.write_text(content)
        assert code_of(path) == code


@pytest.mark.parametrize(
    "content",
    [
        b"\xff\xfe\x00",
        b"\xff\xfe\x00\xd8\x00\x00",
        b"\x81\x8d\x8f\x90,\x9d",
        b"d\0a\0",
        bytes(range(256)) * 40,
        b'"',
    ],
)
def test_what_is_no_text_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "picks.csv"
    path.write_bytes(content)
    try:
        read_tables(path)
    except InputError as error:
        assert error.problems[0].cure


def test_nothing_at_all(tmp_path: Path) -> None:
    for content in (b"", b"\n\n\n", b"\xef\xbb\xbf", b",,,\n"):
        path = tmp_path / "picks.csv"
        path.write_bytes(content)
        assert read_tables(path) == ()
    buffer = io.BytesIO()
    openpyxl.Workbook().save(buffer)
    (tmp_path / "log.xlsx").write_bytes(buffer.getvalue())
    assert read_tables(tmp_path / "log.xlsx") == ()


def repacked(path: Path, change: Callable[[dict[str, bytes]], dict[str, bytes]]) -> Path:
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in change(parts).items():
            packed.writestr(name, content)
    return path


SHEET = "xl/worksheets/sheet1.xml"


def renamed(parts: dict[str, bytes], part: str, content: bytes) -> dict[str, bytes]:
    """Return the parts of a workbook one of which has other content and ends in .dat."""
    new = part.replace(".xml", ".dat")
    listed = {
        name: text.replace(f"/{part}".encode(), f"/{new}".encode()).replace(
            part.removeprefix("xl/").encode(), new.removeprefix("xl/").encode()
        )
        for name, text in parts.items()
        if name != part
    }
    return {**listed, new: content}


STRINGS = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def test_limits_hold_for_a_part_of_any_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list of contents may call any part of the file a sheet, or its shared texts."""

    def with_sheet(content: bytes) -> Path:
        return repacked(xlsx(tmp_path / "log.xlsx"), lambda p: renamed(p, SHEET, content))

    def with_texts(content: bytes) -> Path:
        def add(parts: dict[str, bytes]) -> dict[str, bytes]:
            listed = parts["[Content_Types].xml"].replace(
                b"</Types>",
                f'<Override PartName="/xl/t.dat" ContentType="{STRINGS}"/></Types>'.encode(),
            )
            return {**parts, "[Content_Types].xml": listed, "xl/t.dat": content}

        return repacked(xlsx(tmp_path / "log.xlsx"), add)

    with zipfile.ZipFile(xlsx(tmp_path / "whole.xlsx")) as packed:
        sheet = packed.read(SHEET)
    texts = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"></sst>'
    monkeypatch.setattr(workbooks, "MOST_TAGS", 2000)
    for make, whole in ((with_sheet, sheet), (with_texts, texts)):
        assert len(read_tables(make(whole))[0].rows) == 2  # it is read by that name
        assert code_of(make(b"<!DOCTYPE x>" + whole)) == "sheet.not_plain"
        wide = "<!DOCTYPE x>".encode("utf-16")
        assert code_of(make(wide + whole)) == "sheet.not_plain"
        many = whole.replace(b"</sheetData>", b"<row/>" * 2000 + b"</sheetData>")
        many = many.replace(b"</sst>", b"<si/>" * 2000 + b"</sst>")
        assert code_of(make(many)) == "sheet.cells"


def test_one_sheet_named_many_times_is_counted_each_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def many(parts: dict[str, bytes]) -> dict[str, bytes]:
        book = parts["xl/workbook.xml"].decode()
        (sheet,) = re.findall(r"<sheet [^>]*/>", book)
        more = "".join(sheet.replace('name="Sheet"', f'name="S{n}"') for n in range(50))
        return {**parts, "xl/workbook.xml": book.replace(sheet, sheet + more).encode()}

    path = repacked(xlsx(tmp_path / "log.xlsx"), many)
    assert len(read_tables(path)) == 51
    monkeypatch.setattr(workbooks, "MOST_CELLS", 100)
    assert code_of(path) == "sheet.cells"


def ods_of(path: Path, row: str) -> Path:
    spaces = {name: f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0" for name in
              ("table", "text", "office")}  # fmt: skip
    names = "".join(f' xmlns:{name}="{uri}"' for name, uri in spaces.items())
    heading = "".join(
        f"<table:table-cell><text:p>{word}</text:p></table:table-cell>"
        for word in ("date", "crop", "count")
    )
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr(
            "content.xml",
            f"<x{names} xmlns:dc='d'><table:table><table:table-row>{heading}</table:table-row>"
            f"{row}</table:table></x>",
        )
    return path


def test_repeated_rows_share_their_cells_and_are_counted(tmp_path: Path) -> None:
    cell = '<table:table-cell table:number-columns-repeated="{}"><text:p>1</text:p>'
    row = '<table:table-row table:number-rows-repeated="{}">' + cell
    row += "</table:table-cell></table:table-row>"
    (table,) = read_tables(ods_of(tmp_path / "log.ods", row.format(1000, 400)))
    assert len({id(cells) for _, cells in table.rows}) == 1 and len(table.rows) == 1000
    assert code_of(ods_of(tmp_path / "log.ods", row.format(199_000, 400))) == ("sheet.cells")


def test_a_comment_is_no_part_of_its_cell(tmp_path: Path) -> None:
    row = (
        "<table:table-row><table:table-cell><text:p>2026-07-10</text:p></table:table-cell>"
        "<table:table-cell><office:annotation><dc:creator>me</dc:creator><text:p>from the far "
        "bed</text:p></office:annotation><text:p>snap<text:s/>bean<text:line-break/>pods</text:p>"
        "</table:table-cell><table:table-cell><text:p>3</text:p></table:table-cell>"
        "</table:table-row>"
    )
    (table,) = read_tables(ods_of(tmp_path / "log.ods", row))
    assert table.rows[0][1] == ("2026-07-10", "snap bean pods", "3")
