"""Headings of a table: which column means what, and in which unit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.numbers import unit_of

PICK_FIELDS: dict[str, str] = {
    "date": "date|day|when|picked|picked on|date picked|harvested|harvest date|pick date|"
    "date harvested|harvested on|datum|tag|jour|fecha|dia|data|giorno|dag",
    "crop": "crop|vegetable|veg|veggie|plant|what|produce|item|fruit|species|crop name|kind|"
    "gemuse|gemuese|kultur|pflanze|legume|culture|cultivo|hortaliza|verdura|gewas|"
    "groente|ortaggio|coltura",
    "variety": "variety|varieties|cultivar|cultivars|cv|sort|strain|type|variety name|"
    "name of variety|which|which kind|which one|which sort|which type|which variety|what kind|"
    "what sort|what type|sorte|sorten|sortenname|variete|variedad|ras|varieta",
    "bed": "bed|plot|row|location|place|where|patch|garden bed|box|beete|standort|platz|parcelle|"
    "planche|bancal|perceel|aiuola",
    "count": "count|counted|number|qty|quantity|pieces|fruits|how many|#|no|total count|each|"
    "counts|num|pcs|fruit count|number picked|anzahl|stuck|stueck|stuckzahl|stueckzahl|nombre|"
    "quantite|cantidad|numero|piezas|aantal|stuks|quantita|pezzi",
    "mass": "weight|weighed|mass|wt|total weight|how much|harvest weight|harvest|gewicht|poids|"
    "peso",
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
    "set out|date sown|datum|tag|pflanzdatum|saatdatum|gepflanzt|gepflanzt am|gesat|gesat am|"
    "gesaet|gesaet am|ausgesat|ausgesaet|gesetzt|jour|fecha|data|giorno|dag",
    "how": "how|method|start|sown or set out|planted as|planting method|wie|methode|pflanzart|"
    "anbauart",
    "plants": "plants|number|count|qty|quantity|number of plants|plant count|how many|seeds|"
    "no of plants|number planted|seeds planted|number of seeds|number seeds planted|#|"
    "pflanzenzahl|anzahl|anzahl pflanzen|zahl der pflanzen|stuck|stueck|stuckzahl|stueckzahl",
    "row_m": "row|row length|length|length of row|reihe|reihenlange|reihenlaenge",
    "area_m2": "area|bed area|space|flache|flaeche",
    "unit": "unit|units",
    "removed": "removed|pulled|pulled out|date removed|end|ended|finished|entfernt|geraumt|"
    "geraeumt|abgeraumt|abgeraeumt|gerodet",
    "cover": "cover|covered|covered by|under|under cover|shelter|protection|abdeckung|schutz|"
    "unter glas|abri|couvert|sous abri|cubierta|copertura|bedekking|overkapping",
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
    "station": "station|station id|station name|site",
}
PANTRY_FIELDS: dict[str, str] = {
    "date": "date|day|when|datum|tag|jour|fecha|data|giorno|dag",
    "product": "product|item|what|food|name|preserve",
    "jar": "jar|jar or bag|jar size|size|container|bag|jar bag",
    "change": "change|jars|number|count|qty|quantity|put up|jars put up|in out|+/-|#",
    "produce": "produce|produce used|used|amount used|fruit used",
    "unit": "unit|units|produce unit|weight unit",
    "hours": "hours|hours taken|time|time taken|hands on hours|work",
    "note": PICK_FIELDS["note"],
}
KITCHEN_FIELDS: dict[str, str] = {
    "date": PANTRY_FIELDS["date"],
    "what": "what|what was done|done|did|action|entry",
    "item": "item|thing|product|of what|food|name",
    "jar": PANTRY_FIELDS["jar"],
    "amount": "amount|how much|number|count|jars|qty|quantity|change|#",
    "produce": PANTRY_FIELDS["produce"].replace("|amount used", ""),
    "hours": PANTRY_FIELDS["hours"],
    "note": PANTRY_FIELDS["note"],
}
"""Headings of the kitchen book; an amount carries its unit."""
_BESIDE_A_CROP = {"kind": "variety", "art": "how variety", "beet": "bed", "pflanzen": "plants"}
"""Headings that hold something else where another column names the crop: there "Kind" is the
variety and the German "Beet" the bed, and no beetroot. The first field that is read in the table
and has no column yet is taken."""
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


def field_of(heading: str, fields: Mapping[str, str]) -> tuple[str, str | None] | None:
    """Return the field and the unit that a heading names, or None where it is not known.

    Examples
    --------
    >>> field_of("Weight (lbs)", PICK_FIELDS), field_of("Mood", PICK_FIELDS)
    (('mass', 'lb'), None)
    """
    names = {name: field for field, line in fields.items() for name in line.split("|")}
    words, unit = split_heading(heading)
    field = names.get(words)
    if field is None and unit is None and unit_of(words) in _BARE_UNITS and "mass" in fields:
        unit = unit_of(words)
        field = _BARE_UNITS[str(unit)]
    rest, _, last = words.rpartition(" ")
    if field is None and unit_of(last) == "each" and names.get(rest) == "count":
        field = "count"  # "Number (pcs)"
    if field is None and unit is not None:
        field = names.get(f"{words} {unit}")
    if field == "hours" and words.startswith("min"):
        unit = "min"
    if field == "count" and unit in ("kg", "g", "lb", "oz"):
        field = "mass"
    return None if field is None else (field, unit)


def find_fields(
    table: Table,
    fields: Mapping[str, str],
    findings: Findings,
    *,
    say: bool = True,
    named: Mapping[str, tuple[str, str | None]] | None = None,
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
    named : mapping of str to (str, str or None), optional
        Field and unit of headings, in small letters, that the caller settled; they go first.
    """
    known = [
        (named or {}).get(" ".join(heading.casefold().split())) or field_of(heading, fields)
        for heading in table.heading
    ]
    if "crop" in fields:
        known = _beside_a_crop(table.heading, known, fields)
    found: dict[str, list[Place]] = {}
    for index, (heading, meant) in enumerate(zip(table.heading, known, strict=True)):
        if meant is not None:
            found.setdefault(meant[0], []).append(Place(index, heading, meant[1]))
        elif (
            say
            and index < table.width  # what stands beyond is said row by row
            and any(index < len(cells) and cells[index] for _, cells in table.rows)
        ):
            findings.notice("heading.unknown", table.file, table.heading_line, heading, "")
    return found


def _beside_a_crop(
    headings: Sequence[str],
    known: Sequence[tuple[str, str | None] | None],
    fields: Mapping[str, str],
) -> list[tuple[str, str | None] | None]:
    """Return the fields of the headings, those that mean something else beside a crop settled."""
    words = [split_heading(heading)[0] for heading in headings]
    settled = list(known)
    for index, word in enumerate(words):
        others = {f[0] for n, f in enumerate(settled) if f is not None and n != index}
        if word not in _BESIDE_A_CROP or "crop" not in others:
            continue
        free = [f for f in _BESIDE_A_CROP[word].split() if f in fields and f not in others]
        if free and (settled[index] or ("crop",))[0] == "crop":
            settled[index] = (free[0], None)
    return settled


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
            "column.missing",
            table.file,
            table.heading_line,
            field,
            "",
            field=field,
            meaning=wanted[field],
            headings=have[:200],
        )
    return not missing
