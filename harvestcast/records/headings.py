"""Headings of a table: which column means what, and in which unit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from harvestcast.records.findings import Findings
from harvestcast.records.tables import Table
from harvestcast.records.values import unit_of

PICK_FIELDS: dict[str, str] = {
    "date": "date|day|when|picked|picked on|date picked|harvested|harvest date|pick date|"
    "date harvested|harvested on|datum|tag|jour|fecha|dia|data|giorno|dag",
    "crop": "crop|vegetable|veg|veggie|plant|what|produce|item|fruit|species|crop name|kind|"
    "gemuse|gemuese|kultur|pflanze|legume|culture|cultivo|hortaliza|verdura|gewas|"
    "groente|ortaggio|coltura",
    "variety": "variety|varieties|cultivar|cv|sort|strain|type|variety name|sorte|variete|variedad|"
    "ras|varieta",
    "bed": "bed|plot|row|location|place|where|patch|garden bed|box|parcelle|planche|bancal|"
    "perceel|aiuola",
    "count": "count|number|qty|quantity|pieces|fruits|how many|#|no|total count|each|counts|num|"
    "pcs|fruit count|number picked|anzahl|stuck|stueck|stuckzahl|stueckzahl|nombre|"
    "quantite|cantidad|numero|piezas|aantal|stuks|quantita|pezzi",
    "mass": "weight|mass|wt|total weight|how much|harvest weight|harvest|gewicht|poids|peso",
    "amount": "amount|yield|picked amount|harvested amount|total|how much picked|menge|ertrag|"
    "ernte|recolte|cosecha|raccolto|oogst|hoeveelheid",
    "unit": "unit|units|uom|measure|weight unit|unit of measure|einheit|unite|unidad|eenheid|unita",
    "grade": "grade|quality|condition|class|qualitat|qualite|calidad|kwaliteit",
    "oversize": "oversize|oversized|too big|overgrown|culls",
    "damaged": "damaged|spoiled|bad|rotten|damaged count",
    "hours": "hours|time spent|picking time|hours picking|minutes|minutes picking|stunden|heures|"
    "horas|uren",
    "note": "note|notes|comment|comments|remark|remarks|notiz|notizen|bemerkung|bemerkungen|"
    "anmerkung|anmerkungen|kommentar|remarque|remarques|commentaire|nota|notas|"
    "observaciones|opmerking|opmerkingen|commento|osservazioni",
}
"""Headings of a pick log: English, and the usual ones in German, French, Spanish, Dutch, Italian.

French ``nombre`` is a count; a Spanish log that means a name by it is told so line by line.
"""
PLANTING_FIELDS: dict[str, str] = {
    "crop": PICK_FIELDS["crop"],
    "variety": PICK_FIELDS["variety"],
    "bed": PICK_FIELDS["bed"],
    "date": "date|day|when|planted|planted on|date planted|planting date|sown|sowing date|"
    "set out|date sown|datum|jour|fecha|data|giorno",
    "how": "how|method|start|sown or set out|planted as|planting method",
    "plants": "plants|number|count|qty|quantity|number of plants|plant count|how many|seeds|"
    "no of plants|number planted|seeds planted|number of seeds|number seeds planted|#",
    "row_m": "row|row length|length|length of row",
    "area_m2": "area|bed area|space",
    "removed": "removed|pulled|pulled out|date removed|end|ended|finished",
    "note": PICK_FIELDS["note"],
}
WEATHER_FIELDS: dict[str, str] = {
    "date": "date|day|when|datum|tag|jour|fecha|data|giorno|dag",
    "tmin": "tmin|min|low|lo|minimum|min temp|temp min|temperature min|minimum temperature|"
    "low temp|temp low|tn|min temperature|temperature minimum|lowest|t min|tempmin|mintemp",
    "tmax": "tmax|max|high|hi|maximum|max temp|temp max|temperature max|maximum temperature|"
    "high temp|temp high|tx|max temperature|temperature maximum|highest|t max|tempmax|maxtemp",
    "rain": "rain|precip|prcp|precipitation|rainfall|rain total|total rain|water",
    "kind": "kind|type|status",
    "issued": "issued|issue date|forecast made|made on|issued on",
    "unit": "unit|units",
}
PANTRY_FIELDS: dict[str, str] = {
    "date": "date|day|when|datum|tag|jour|fecha|data|giorno|dag",
    "product": "product|item|what|food|name|preserve",
    "jar": "jar|jar or bag|jar size|size|container|bag|jar bag",
    "change": "change|jars|number|count|qty|quantity|put up|jars put up|in out|+/-|#",
    "produce": "produce|produce used|used|amount used|fruit used",
    "hours": "hours|hours taken|time|time taken|hands on hours|work",
    "note": PICK_FIELDS["note"],
}
_BARE_UNITS = {"kg": "mass", "g": "mass", "lb": "mass", "oz": "mass", "dozen": "count"}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a field stands: its column, its heading as typed and the unit named there."""

    index: int
    heading: str
    unit: str | None = None


def split_heading(text: str) -> tuple[str, str | None]:
    """Return the words of a heading, without accents, and the unit it names.

    Examples
    --------
    >>> split_heading("Weight (lbs)"), split_heading("tmin_f"), split_heading("Low °F")
    (('weight', 'lb'), ('tmin', 'degF'), ('low', 'degF'))
    >>> split_heading("row_ft"), split_heading("Variety")
    (('row', 'ft'), ('variety', None))
    >>> split_heading("St\u00fcckzahl"), split_heading("Gewicht (kg)")
    (('stuckzahl', None), ('gewicht', 'kg'))
    """
    plain = re.sub(r"([a-z])([A-Z])(?=[a-z])", r"\1 \2", text[:100]).casefold()
    plain = plain.replace("°", "deg ").replace("²", "2").replace("hands-on", "hands on")
    plain = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    words = re.findall(r"[#]|\+/-|[a-z0-9']+", plain.replace("_", " "))
    while words and words[0] in ("the", "total") and len(words) > 2:
        words = words[1:]
    joined = words[-1] if words else ""
    if len(words) > 2 and words[-2] in ("deg", "degrees"):
        words = [*words[:-2], f"deg{words[-1]}"]
        joined = words[-1]
    if len(words) > 1 and words[-2:] in (["sq", "m"], ["sq", "ft"]):
        words = [*words[:-2], "sq" + words[-1]]
        joined = words[-1]
    unit = unit_of(joined) if len(words) > 1 else None
    if unit in ("each", None):
        return " ".join(words), None
    words = [w for w in words[:-1] if w not in ("in", "deg", "degrees")]
    return " ".join(words), unit


def find_fields(
    table: Table, fields: Mapping[str, str], findings: Findings, *, say: bool = True
) -> dict[str, list[Place]]:
    """Return the places of every field of a table, by heading.

    Parameters
    ----------
    table : Table
        Table whose heading is read.
    fields : mapping of str to str
        Names of each field, divided by ``|``.
    findings : Findings
        Takes a notice for every column that is not used.
    say : bool
        Whether to write those notices.
    """
    names = {name: field for field, line in fields.items() for name in line.split("|")}
    found: dict[str, list[Place]] = {}
    for index, heading in enumerate(table.heading):
        words, unit = split_heading(heading)
        field = names.get(words)
        if field is None and unit is None and unit_of(words) in _BARE_UNITS and "mass" in fields:
            unit = unit_of(words)
            field = _BARE_UNITS[str(unit)]
        if field is None and unit is not None:
            whole, _ = f"{words} {unit}", None
            field = names.get(whole)
        if field == "hours" and words.startswith("min"):
            unit = "min"
        if field == "count" and unit in ("kg", "g", "lb", "oz"):
            field = "mass"
        if field is not None:
            found.setdefault(field, []).append(Place(index, heading, unit))
        elif say and any(index < len(cells) and cells[index] for _, cells in table.rows):
            findings.notice(
                table.file,
                table.heading_line,
                heading,
                "",
                "the heading is not known here",
                "its column was not used",
                kind=f"unknown heading {heading}",
            )
    return found


def require(
    table: Table,
    found: Mapping[str, Sequence[Place]],
    wanted: Mapping[str, str],
    findings: Findings,
) -> bool:
    """Say every missing column; return whether all are there."""
    missing = [field for field in wanted if field not in found]
    have = ", ".join(h for h in table.heading if h) or "none"
    for field in missing:
        findings.problem(
            table.file,
            table.heading_line,
            field,
            "",
            f"there is no column for the {wanted[field]} (headings found: {have[:200]})",
            f'Add a column headed "{field}", or rename the one that holds it.',
        )
    return not missing
