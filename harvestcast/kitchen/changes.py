"""What if: the same garden with other settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from harvestcast.errors import InputError, Problem
from harvestcast.records.household import Household, to_metric_keys

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


def changed_garden(garden: Garden, change: Mapping[str, Any] | None) -> Garden:
    """Return the garden with some settings changed; nothing is written.

    Parameters
    ----------
    garden : Garden
        The household as it is.
    change : mapping or None
        Keys as in ``garden.toml``, metric or customary: ``{"hours": {"saturday": 3}}``,
        ``{"crops": {"cucumber": {"give_kg_week": 20}}}``, ``{"targets": {"dill pickles": 0}}``.
        Tables are merged key by key; everything else takes the old value's place. The one
        further key ``"more_equipment"`` lists equipment to add to what is there, and a negative
        number under ``"more_hours"`` (per weekday) takes hours away.

    Returns
    -------
    Garden

    Raises
    ------
    InputError
        Where a key or value is no setting.
    """
    if not change:
        return garden
    home = garden.household
    now: dict[str, Any] = home.model_dump()
    for name in ("hours", "jars", "stock", "targets", "crops"):
        now[name] = dict(now[name])
    wanted = to_metric_keys({k: v for k, v in change.items() if not k.startswith("more_")})
    if isinstance(wanted.get("stock"), Mapping):
        wanted["stock"] = to_metric_keys(wanted["stock"])
    for key, value in wanted.items():
        now[key] = _merged(now.get(key), value)
    now["equipment"] = [*now["equipment"], *change.get("more_equipment", ())]
    for day, hours in dict(change.get("more_hours", {})).items():
        now["hours"][day] = max(0.0, now["hours"].get(day, 0.0) + float(hours))
    try:
        changed = Household.model_validate(now)
    except ValidationError as error:
        raise InputError(
            Problem(
                file="change",
                column=".".join(str(part) for part in one["loc"]),
                value=str(one["input"])[:80],
                rule=one["msg"],
                cure="Use the keys of garden.toml",
            )
            for one in error.errors()
        ) from None
    return replace(garden, household=changed)


def _merged(old: Any, new: Any) -> Any:
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        return {**old, **{key: _merged(old.get(key), value) for key, value in new.items()}}
    return to_metric_keys(new) if isinstance(new, Mapping) else new
