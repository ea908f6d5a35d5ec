"""Read ``garden.toml``; every complaint is said in household words, with its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from copy import deepcopy
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from harvestcast.errors import InputError, TypedError
from harvestcast.records.household import (
    TO_METRIC,
    Choices,
    CropSettings,
    Equipment,
    Household,
    Recipe,
    to_metric_keys,
)
from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.text import decode, read_bytes
from harvestcast.records.typed.crops import canonical_crop, tidy_name
from harvestcast.records.typed.jar_sizes import jar_size

FILE = "garden.toml"
MOST_BYTES = 1024**2
_MOST_COMPLAINTS = 200
_JARS = frozenset({"half_pint", "pint", "quart", "lids", "freezer_bags"})
_PARTS = {"crops": CropSettings, "equipment": Equipment, "recipes": Recipe, "choices": Choices}


def read_household(folder: Path, findings: Findings) -> Household:
    """Return the household's settings; problems and notices go to ``findings``.

    A folder without ``garden.toml`` gets the ordinary settings, and a notice.
    """
    path = folder / FILE
    if not path.exists():
        findings.notice("file.missing", FILE, None, "", "", stem="garden")
        return Household()
    try:
        text, _ = decode(read_bytes(path, FILE, MOST_BYTES), FILE)
    except InputError as error:
        findings.take(error.problems)
        return Household()
    household = parse_household(text, findings)
    for key in sorted(set(household.jars) - _JARS):
        if _says_a_size(key):
            continue  # the kitchen says what becomes of jars of another measure
        line = key_lines(text).get(f"jars.{key}")
        findings.notice("jars.unknown", FILE, line, f"jars.{key}", "", known=sorted(_JARS))
    if household.elevation_m is None and not findings.problems:
        findings.notice("elevation.none", FILE, None, "elevation_m", "")
    return household


def settings_of(folder: Path) -> Household:
    """Return the settings of a garden folder that is to be written to or read for one.

    Raises
    ------
    harvestcast.errors.InputError
        Where there is no such folder, or its settings cannot be used.
    """
    if not folder.is_dir():
        raise refuse("folder.missing", folder.name)
    findings = Findings()
    household = read_household(folder, findings)
    if findings.problems:
        raise InputError(findings.problems)
    return household


def _says_a_size(jar: str) -> bool:
    try:
        return jar_size(jar) is not None
    except ValueError:
        return False


def parse_household(text: str, findings: Findings) -> Household:
    """Return the settings in the text of a ``garden.toml``; problems go to ``findings``.

    Where some settings cannot be used the others are returned, so that what else is wrong in
    the folder can be said at the same time.
    """
    try:
        table = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        _say_broken(str(error), text, findings)
        return Household()
    except (RecursionError, ValueError):
        findings.problem("setting.no_file", FILE, None, "", "")
        return Household()
    return household_of(table, key_lines(text), findings)


def household_of(
    table: Mapping[str, Any], lines: Mapping[str, int], findings: Findings
) -> Household:
    """Return settings given as a nested mapping; problems go to ``findings``.

    ``lines`` says in which line of ``garden.toml`` a key stands; empty where there is no file.
    """
    table = _canonical_crops(dict(table), dict(lines), findings)
    try:
        return Household.model_validate(table)
    except ValidationError as error:
        complaints = error.errors(include_url=False)
        for complaint in complaints[:_MOST_COMPLAINTS]:
            _say(complaint, lines, findings)
        if len(complaints) > _MOST_COMPLAINTS:
            more = len(complaints) - _MOST_COMPLAINTS
            findings.problem("setting.more", FILE, None, "", "", number=more)
        return _usable(table, [complaint["loc"] for complaint in complaints])
    except RecursionError:
        findings.problem("setting.nested", FILE, None, "", "")
    return Household()


def _usable(table: dict[str, Any], bad: list[tuple[int | str, ...]]) -> Household:
    """Return the settings without those that were complained of; the ordinary ones at worst."""
    whole = deepcopy(table)
    lists: dict[int, list[Any]] = {}
    spellings: dict[int, dict[str, list[str]]] = {}
    for place in bad:
        steps = [part for part in place if part != "[key]"]
        inside: Any = whole
        for step in steps[:-1]:
            known = isinstance(inside, dict) and step in inside
            listed = isinstance(inside, list) and isinstance(step, int) and step < len(inside)
            inside = inside[step] if known or listed else None
        last = steps[-1] if steps else None
        if isinstance(inside, list) and isinstance(last, int) and last < len(inside):
            inside[last] = None  # the places of the others stay as they are until the end
            lists[id(inside)] = inside
        elif isinstance(inside, dict):
            if id(inside) not in spellings:  # once a group: a file may hold thousands of keys
                spellings[id(inside)] = _spellings(inside)
            for key in spellings[id(inside)].get(str(last), ()):
                inside.pop(key, None)
    for one in lists.values():
        one[:] = [part for part in one if part is not None]
    try:
        return Household.model_validate(whole)
    except (ValidationError, RecursionError):
        return Household()


def _spellings(group: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return the keys of a group by their own name and by that of their metric twin."""
    found: dict[str, list[str]] = {}
    for key in group:
        for name in {key, *to_metric_keys({key: 1.0})}:
            found.setdefault(name, []).append(key)
    return found


def key_lines(text: str) -> dict[str, int]:
    r"""Return the line of every key of a TOML text; arrays of tables are numbered from 0.

    Examples
    --------
    >>> key_lines('units = "us"\n[[equipment]]\nkind = "crock"\n')
    {'units': 1, 'equipment': 2, 'equipment.0': 2, 'equipment.0.kind': 3}
    """
    lines: dict[str, int] = {}
    prefix = ""
    arrays: dict[str, int] = {}
    for number, whole in enumerate(text.splitlines(), 1):
        line = whole[:300]
        header = re.match(r"\s*(\[\[?)\s*([^\]]+?)\s*\]", line)
        if header:
            prefix = _bare(header[2])
            lines.setdefault(prefix, number)
            if header[1] == "[[":
                arrays[prefix] = arrays.get(prefix, -1) + 1
                prefix = f"{prefix}.{arrays[prefix]}"
                lines.setdefault(prefix, number)
            continue
        key = re.match(r"\s*(\"[^\"]*\"|'[^']*'|[\w.-]+)\s*=", line)
        if key:
            name = _bare(key[1])
            lines.setdefault(f"{prefix}.{name}" if prefix else name, number)
    return lines


def _bare(dotted: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in dotted.split("."))


def _say_broken(message: str, text: str, findings: Findings) -> None:
    place = re.search(r"\(at line (\d+), column \d+\)", message)
    line = int(place[1]) if place else max(text.count("\n"), 1)
    lines = text.splitlines()
    typed = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    reason = re.sub(r"\s*\(at .*\)$", "", message).rstrip(".")
    reason = reason[:1].lower() + reason[1:]
    findings.problem("setting.broken", FILE, line, "", typed, reason=reason)


def _canonical_crops(
    table: dict[str, Any], lines: dict[str, int], findings: Findings
) -> dict[str, Any]:
    """Return the settings with the crops under their canonical names."""
    crops = table.get("crops")
    if not isinstance(crops, dict):
        return table
    named: dict[str, Any] = {}
    known: dict[str, str] = {}
    for typed, settings in crops.items():
        crop = canonical_crop(typed) or tidy_name(typed)
        if crop in named:
            place = f"crops.{typed}"
            findings.problem("setting.crop_twice", FILE, lines.get(place), place, "", crop=crop)
        named[f"{typed} (again)" if crop in named else crop] = settings
        known[typed] = crop
    for old, line in list(lines.items()):
        parts = old.split(".")[1:] if old.startswith("crops.") else []
        for n in range(1, len(parts) + 1):
            crop = known.get(".".join(parts[:n]), "")
            if crop:
                lines.setdefault(".".join(["crops", crop, *parts[n:]]), line)
    return {**table, "crops": named}


def _say(
    complaint: Mapping[str, Any],
    lines: Mapping[str, int],
    findings: Findings,
) -> None:
    place = [str(part) for part in complaint["loc"] if part != "[key]"]
    key, line = _typed_key(".".join(place), lines)
    factor = 1.0
    if (
        place
        and key.rpartition(".")[2] != place[-1]
        and place[-1] in (twin := to_metric_keys({key.rpartition(".")[2]: 1.0}))
    ):
        factor = twin[place[-1]]
    code, facts = _code(complaint, place, factor)
    value = complaint.get("input", "")
    typed: Any = value if isinstance(value, str | int | float) else ""
    typed = str(value).lower() if isinstance(value, bool) else typed
    if isinstance(value, float) and factor != 1.0:
        typed = f"{value / factor:.6g}"
    if complaint["type"] == "missing":
        typed = ""
    findings.problem(code, FILE, line, key, typed, **facts)


def _typed_key(key: str, lines: Mapping[str, int]) -> tuple[str, int | None]:
    """Return the key as it was typed (perhaps in a customary unit) and its line."""
    if key in lines:
        return key, lines[key]
    for twin, (metric, _) in TO_METRIC.items():
        match = re.fullmatch(rf"(.+)_{metric}((?:_per_\w+|_week)?)", key)
        typed = f"{match[1]}_{twin}{match[2]}" if match else ""
        if typed in lines:
            return typed, lines[typed]
    parent = key.rpartition(".")[0]
    while parent and parent not in lines:
        parent = parent.rpartition(".")[0]
    return key, lines.get(parent)


_CODES = {
    "string_pattern_mismatch": "setting.month_day",
    "finite_number": "setting.number",
    "float_parsing": "setting.number",
    "float_type": "setting.number",
    "int_parsing": "setting.number",
    "int_from_float": "setting.whole",
    "int_type": "setting.whole",
    "bool_type": "setting.yes_no",
    "bool_parsing": "setting.yes_no",
    "string_type": "setting.text",
    "tuple_type": "setting.list",
    "list_type": "setting.list",
    "mapping_type": "setting.group",
    "dict_type": "setting.group",
    "model_type": "setting.group",
    "model_attributes_type": "setting.group",
}
_BOUNDS = {
    "greater_than_equal": ("ge", "at least"),
    "greater_than": ("gt", "more than"),
    "less_than_equal": ("le", "at most"),
    "less_than": ("lt", "less than"),
}


def _code(
    complaint: Mapping[str, Any], place: list[str], factor: float
) -> tuple[str, dict[str, Any]]:
    """Return code and facts of one complaint of the settings' checker.

    ``factor`` is the size of the unit that was typed in the unit the checker speaks of.
    """
    kind, context = complaint["type"], complaint.get("ctx", {})
    if kind == "extra_forbidden":
        known = _known_keys(place)
        close = get_close_matches(place[-1], known, n=1)
        return "setting.unknown", {"meant": close[0] if close else "", "known": known}
    if kind == "missing":
        return "setting.missing", {"key": place[-1]}
    if kind == "literal_error":
        return "setting.one_of", {"expected": context.get("expected", "one of the known words")}
    if kind in _BOUNDS:
        name, words = _BOUNDS[kind]
        return "setting.bound", {"bound": words, "limit": float(context[name] / factor)}
    error = context.get("error")
    if isinstance(error, TypedError):
        return error.code, dict(error.facts)
    code = _CODES.get(kind, "setting.unusable")
    if code == "setting.group":
        return code, {"key": ".".join(place)}
    return code, {"reason": str(complaint["msg"]).rstrip(".")} if code == "setting.unusable" else {}


def _known_keys(place: list[str]) -> list[str]:
    model: Any = Household
    for part in place[:-1]:
        model = _PARTS.get(part, model)
    return sorted(model.model_fields)
