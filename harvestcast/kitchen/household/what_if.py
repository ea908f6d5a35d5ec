"""What if: the household's settings with a change, checked like the settings themselves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from harvestcast.errors import InputError, Problem
from harvestcast.records.household import Household, is_number, to_metric_keys
from harvestcast.records.typed.crops import canonical_crop

GIVEN_ALL_KG_WEEK = 1000.0
"""More than any garden gives: a crop of which whatever is not wanted is given away."""

_TABLES = ("hours", "jars", "stock", "targets", "choices")

KEYS: dict[str, str] = {
    "hours": "hands-on hours of weekdays: {'saturday': 3}",
    "more_hours": "hours more, or less, on weekdays: {'saturday': -2}",
    "add_equipment": "pieces more: [{'kind': 'boiling_water_canner'}]",
    "without_equipment": "kinds to do without: ['dryer']",
    "jars": "jars, lids and bags in stock: {'pint': 60}",
    "more_jars": "jars, lids and bags more, or less: {'lids': 24}",
    "targets": "jars a year of products: {'dill pickles': 10}",
    "give_away": "crops of which all that is not wanted is given away: ['zucchini']",
    "crops": "settings of crops, as in garden.toml: {'cucumber': {'keep_days': 5}}",
    "choices": "prices and values, as in garden.toml: {'hour': 3}",
}
"""What can be changed beside every plain setting of ``garden.toml`` (people, elevation_m ...)."""


def changed_household(household: Household, change: Mapping[str, Any] | None) -> Household:
    """Return the household with a change.

    Parameters
    ----------
    household : Household
        Settings; left as they are.
    change : mapping or None
        Keys of :data:`KEYS`, or any setting of ``garden.toml``, in its units.

    Returns
    -------
    Household
        A changed copy, checked like ``garden.toml``.

    Raises
    ------
    InputError
        Where a key is unknown or a value does not do; every reason at once.

    Examples
    --------
    >>> home = Household(hours={"saturday": 4})
    >>> dict(changed_household(home, {"more_hours": {"saturday": -2}}).hours)
    {'saturday': 2.0}
    """
    if not change:
        return household
    plain = {name: plain_setting(getattr(household, name)) for name in household.model_fields_set}
    problems: list[Problem] = []
    asked = to_metric_keys(change)
    known = set(KEYS) | set(Household.model_fields)
    for key, value in asked.items():
        if key not in known:
            problems.append(_problem(key, value, "no such change", f"Use one of {sorted(KEYS)}."))
        elif key in ("more_hours", "more_jars"):
            problems += _add(plain, key.removeprefix("more_"), value)
        elif key == "add_equipment":
            plain["equipment"] = [*plain.get("equipment", ()), *value]
        elif key == "without_equipment":
            pieces = plain.get("equipment", ())
            plain["equipment"] = [one for one in pieces if one["kind"] not in set(value)]
        elif key == "give_away":
            crops = dict(plain.get("crops", {}))
            for name in value:
                crop = canonical_crop(str(name), {}) or str(name)
                crops[crop] = {**crops.get(crop, {}), "give_kg_week": GIVEN_ALL_KG_WEEK}
            plain["crops"] = crops
        elif key == "crops":
            crops = dict(plain.get("crops", {}))
            for name, settings in value.items():
                crop = canonical_crop(str(name), {}) or str(name)
                crops[crop] = {**crops.get(crop, {}), **to_metric_keys(settings)}
            plain["crops"] = crops
        elif key in _TABLES:
            plain[key] = {**plain.get(key, {}), **to_metric_keys(value)}
        else:
            plain[key] = value
    if problems:
        raise InputError(problems)
    try:
        return Household.model_validate(plain)
    except ValidationError as error:
        raise InputError(
            _problem(
                ".".join(str(part) for part in one["loc"]),
                one.get("input"),
                one["msg"],
                "Change it as it would stand in garden.toml.",
            )
            for one in error.errors()
        ) from error


def plain_setting(value: Any) -> Any:
    """Return settings as they would be read from a file."""
    if isinstance(value, BaseModel):
        return value.model_dump(exclude_unset=True)
    if isinstance(value, Mapping):
        return {key: plain_setting(one) for key, one in value.items()}
    return [plain_setting(one) for one in value] if isinstance(value, tuple) else value


def _add(plain: dict[str, Any], table: str, more: Mapping[str, float]) -> list[Problem]:
    amounts = dict(plain.get(table, {}))
    problems = []
    for name, amount in more.items():
        if not is_number(amount):
            rule = "must be a number"
            problems.append(_problem(f"more_{table}.{name}", amount, rule, "Type a number."))
            continue
        total = float(amounts.get(name, 0.0)) + float(amount)
        if total < 0:
            problems.append(
                _problem(
                    f"more_{table}.{name}",
                    amount,
                    f"there are only {amounts.get(name, 0):g} to take it from",
                    f"Take away at most {amounts.get(name, 0):g}.",
                )
            )
        amounts[name] = total
    plain[table] = amounts
    return problems


def _problem(column: str, value: Any, rule: str, cure: str) -> Problem:
    return Problem(file="change", column=column, value=str(value), rule=rule, cure=cure)
