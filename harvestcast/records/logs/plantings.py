"""What was planted: ``plantings.csv``."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PLANTING_FIELDS, find_fields, require
from harvestcast.records.tables.rows import CropReader, RowReader
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import PERENNIALS
from harvestcast.records.typed.dates import DateOrder
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.units import M2_PER_SQFT, M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    import pandas as pd

HOW: dict[str, str] = {
    word: how
    for how, words in {
        "sown": "gesat|gesaet|ausgesat|ausgesaet|direkt gesat|direkt gesaet|direktsaat|aussaat|"
        "sown|sow|sowed|seed|seeds|seeded|direct|direct sown|direct seed|direct seeded|"
        "direct sow|sown outside|from seed",
        "set_out": "gepflanzt|ausgepflanzt|gesetzt|pflanzung|jungpflanze|jungpflanzen|setzling|"
        "setzlinge|gesteckt|gelegt|set_out|set out|setout|transplant|transplants|transplanted|"
        "plant|plants|planted|planted out|plant out|start|starts|seedling|seedlings|"
        "plug|plugs|slip|slips|crown|crowns|bare root|set|sets|tuber|tubers|clove|cloves",
    }.items()
    for word in words.split("|")
}
COVERS: dict[str, str] = {
    word: cover
    for cover, words in {
        "glass": "glass|glasshouse|house|greenhouse|green house|tunnel|polytunnel|poly tunnel|"
        "high tunnel|hoophouse|hoop house|gewachshaus|gewaechshaus|glashaus|folientunnel|"
        "folienhaus|serre|invernadero|invernaculo|tunel|serra|tunnelserre|kas|tunnelkas",
    }.items()
    for word in words.split("|")
}
"""Words for what stands over a bed the whole season, and the one word each is read as."""
_LENGTHS = {"m": 1.0, "ft": M_PER_FT, "in": M_PER_IN, "cm": 0.01}
_AREAS = {"m2": 1.0, "ft2": M2_PER_SQFT}
_PIECES = {"each": 1.0, "dozen": 12.0}
_SIZES = {"plants": _PIECES, "row_m": _LENGTHS, "area_m2": _AREAS}


def read_plantings(
    table: Table,
    findings: Findings,
    read_crop: CropReader,
    *,
    order: DateOrder = "year_first",
    unread: set[str] | None = None,
) -> pd.DataFrame:
    """Return the plantings of a table as a PLANTINGS frame.

    ``unread`` takes the crops of lines with a problem, which are no plantings in the frame.
    """
    # Loaded late: whoever writes a pick down waits for no table it does not need.
    import pandas as pd

    from harvestcast.frames import PLANTINGS, check_frame

    records = planting_records(table, findings, read_crop, order=order, unread=unread)
    if not records:
        return PLANTINGS.empty()
    frame = pd.DataFrame(records, columns=PLANTINGS.names)
    frame["date"] = pd.to_datetime(frame["date"])
    frame["removed"] = pd.to_datetime(frame["removed"])
    return check_frame(frame, PLANTINGS)


def planting_records(
    table: Table,
    findings: Findings,
    read_crop: CropReader,
    *,
    order: DateOrder = "year_first",
    unread: set[str] | None = None,
) -> list[dict[str, Any]]:
    """Return the plantings of a table as :func:`read_plantings` does, a record each."""
    places = find_fields(table, PLANTING_FIELDS, findings)
    wanted = {"crop": "crop", "date": "planting date", "how": "way of planting (sown or set_out)"}
    if not require(table, places, wanted, findings):
        return []
    records: list[dict[str, Any]] = []
    seen: dict[tuple[Any, ...], int] = {}
    rows = RowReader(table, places, findings, order=order, number_fields=("plants", "row_m"))
    for row in rows.every():
        crop = read_crop(row)
        record = None if row.too_wide() else _row(row, crop)
        if record is None:
            if unread is not None and crop is not None:
                unread.add(crop)
            continue
        same = tuple(v for k, v in record.items() if k not in ("file", "line"))
        if same in seen:
            row.notice("planting.twice", "crop", record["crop"], line=seen[same])
        seen.setdefault(same, row.line)
        records.append(record)
    return records


def _row(row: RowReader, crop: str | None) -> dict[str, Any] | None:
    perennial = crop in PERENNIALS
    before = row.text("date")
    day = row.date(required=not perennial)
    readable = day is not None or (perennial and not before)
    removed = row.date("removed", required=False)
    how = _how(row, perennial)
    sizes, known = _sizes(row)
    if removed is not None and day is not None and removed < day:
        row.problem("planting.removed_before", "removed", row.text("removed"))
    cover = _word(row, "cover", COVERS, "planting.cover")
    roofed = cover is not None or not row.text("cover")
    if crop is None or how is None or not readable or not known or not roofed:
        return None
    return {
        "crop": crop,
        "variety": " ".join(row.text("variety").split()) or UNNAMED,
        "bed": row.text("bed") or None,
        "date": day,
        "how": how,
        **sizes,
        "removed": removed,
        "cover": cover,
        "note": row.text("note") or None,
        "file": row.table.file,
        "line": row.line,
    }


def _sizes(row: RowReader) -> tuple[dict[str, float | None], bool]:
    """Return plants, row and area of a row, and whether its unit belongs to one of them."""
    unit, known = row.unit_beside([name for units in _SIZES.values() for name in units])
    sizes = {}
    for field, units in _SIZES.items():
        beside = unit if unit in units else None
        if beside and not row.text(field):
            names = {"plants": "number of plants", "row_m": "row length", "area_m2": "area"}
            row.problem("planting.bare_unit", "unit", row.text("unit"), meaning=names[field])
            known = False
        if field == "plants" and beside is None:
            sizes[field] = row.number(field)
        else:
            sizes[field] = row.number(field, factors=units, beside=beside)
    return sizes, known


def _how(row: RowReader, perennial: bool) -> str | None:
    typed = row.text("how")
    if not typed and perennial:
        return "set_out"
    return _word(row, "how", HOW, "planting.how")


def _word(row: RowReader, field: str, known: Mapping[str, str], code: str) -> str | None:
    """Return what a word of a field is read as; None, and a problem, where it is not known.

    An empty cell is a problem of ``how`` alone.
    """
    typed = row.text(field)
    plain = unicodedata.normalize("NFKD", typed.casefold().replace("-", " "))
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    word = known.get(" ".join(plain.split()))
    if word is None and (typed or field == "how"):
        row.problem(code, field, typed)
    return word
