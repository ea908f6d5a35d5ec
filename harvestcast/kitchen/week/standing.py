"""What was decided before, and whether anything real has changed since.

A batch that was decided, and shopped for, is done on its day unless something has happened: other
amounts came in than in eight futures of ten, the forecast has left that range, what was decided was
not done or something else was, a count found another amount, or ``garden.toml`` was changed. Each
has its code. Where none of them touches a crop, its batches stand as they were.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.growth.forecast import Outlook
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.on_hand import picks_by_day
from harvestcast.kitchen.household.pantry import pantry_book
from harvestcast.kitchen.household.what_if import plain_setting
from harvestcast.kitchen.messages import Said
from harvestcast.kitchen.solve.inputs import ProgrammeInputs

if TYPE_CHECKING:
    from harvestcast.kitchen.week.plan import KitchenPlan
    from harvestcast.records.garden import Garden

RANGE = (0.1, 0.9)
"""What comes in between these shares of the futures is nothing new."""
REAL_KG = 0.5
"""Amounts below this, beyond the range, are nothing new either."""
AHEAD_DAYS = 7
"""Days after the decision for which the range of what comes in is kept."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """What was decided on an evening, and what was expected then.

    Parameters
    ----------
    as_of : pandas.Timestamp
        The evening.
    days : int
        Days that were decided then.
    batches : pandas.DataFrame
        Columns day, option, crop, product, label, jar, batches, jars_low, jars_high, since (the
        evening on which it was first decided), firm (False: only if enough comes in).
    coming : pandas.DataFrame
        Columns crop, day, q10_kg, q90_kg: picked from that evening up to the day.
    lying : mapping of str to float
        On hand that evening, by crop. [kg]
    settings : mapping of str to str
        Fingerprint of every setting of ``garden.toml``.
    shopping : pandas.DataFrame
        Table SHOPPING of that evening.
    """

    as_of: pd.Timestamp
    days: int
    batches: pd.DataFrame
    coming: pd.DataFrame
    lying: Mapping[str, float]
    settings: Mapping[str, str]
    shopping: pd.DataFrame


_BATCH = ["day", "option", "crop", "product", "label", "jar", "batches", "jars_low", "jars_high",
          "since", "firm"]  # fmt: skip
_COMING = ["crop", "day", "q10_kg", "q90_kg"]
_SHOP = ["item", "to_buy", "unit", "shown"]


def option_key(row: Mapping[Any, Any]) -> str:
    """Return the key of table OPTIONS that a row of table BATCHES was made with."""
    gauge = row.get("gauge")
    method = str(row["method"]) + ("" if pd.isna(gauge) else f"_{gauge}")
    return f"{row['product']}/{row['jar']}/{method}"


def standing_of(plan: KitchenPlan, outlook: Outlook, garden: Garden, days: int) -> Standing:
    """Return what a plan decides, to be kept for the next days.

    Parameters
    ----------
    plan : KitchenPlan
        The plan.
    outlook : Outlook
        What it was made for.
    garden : Garden
        The garden folder as it was opened.
    days : int
        Days that the plan decides.

    Returns
    -------
    Standing
    """
    own = plan.batches
    # What is laid up as it comes is no decision of a day.
    own = own[(own["decided"] | own["if_kg"].notna()) & (own["method"] != "keeping")]
    rows = [
        {**row, "option": option_key(row), "firm": bool(row["decided"]),
         "since": plan.as_of if pd.isna(row["since"]) else row["since"]}
        for row in own.to_dict("records")
    ]  # fmt: skip
    first = plan.balance.drop_duplicates("crop")
    return Standing(
        as_of=plan.as_of,
        days=days,
        batches=pd.DataFrame(rows, columns=_BATCH),
        coming=_coming(outlook),
        lying=dict(zip(first["crop"].astype(str), first["carried_in"].astype(float), strict=True)),
        settings=_settings(garden),
        shopping=plan.shopping[_SHOP],
    )


def _coming(outlook: Outlook) -> pd.DataFrame:
    rows = []
    days = outlook.dates[:AHEAD_DAYS]
    for crop, low, high in _by_crop(outlook, RANGE):
        rows += [(crop, day, *ends) for day, *ends in zip(days, low, high, strict=False)]
    return pd.DataFrame(rows, columns=_COMING)


def _by_crop(outlook: Outlook, levels: Sequence[float]) -> list[tuple[Any, ...]]:
    """Return crop and quantiles of what is picked up to each day, kg."""
    found: list[tuple[Any, ...]] = []
    for crop in sorted({crop for crop, _ in outlook.keys}):
        mine = [number for number, key in enumerate(outlook.keys) if key[0] == crop]
        kg = np.nan_to_num(outlook.mass_kg[:, :, mine].sum(axis=2)).cumsum(axis=1)
        found.append((crop, *np.quantile(kg, levels, axis=0)))
    return found


def _settings(garden: Garden) -> dict[str, str]:
    """Return a fingerprint of each setting, so that one that was changed can be named."""
    whole = {
        str(key): json.dumps(plain_setting(value), sort_keys=True)
        for key, value in garden.household
        if key not in ("counted_on", "jars", "stock")
    }
    return {key: hashlib.sha256(text.encode()).hexdigest()[:12] for key, text in whole.items()}


def changes_since(standing: Standing, outlook: Outlook, garden: Garden) -> dict[str, list[Said]]:
    """Return what has really changed since a decision, by crop; under "" what touches all.

    Parameters
    ----------
    standing : Standing
        The decision.
    outlook : Outlook
        The forecast of today.
    garden : Garden
        The garden folder as it was opened.

    Returns
    -------
    dict of str to list of Said
        Crops without an entry have seen nothing but what was to be expected.
    """
    found: dict[str, list[Said]] = {}
    units = garden.household.units

    def say(crop: str, code: str, **facts: Any) -> None:
        found.setdefault(crop, []).append(Said(code, {"crop": crop, "units": units, **facts}))

    now = _settings(garden)
    changed = sorted(key for key in now if standing.settings.get(key) != now[key])
    if changed:
        found[""] = [Said("change.settings", {"keys": changed})]
    since, today = standing.as_of, outlook.as_of
    picks = picks_by_day(garden, today)
    picked = picks[picks["date"] > since].groupby("crop")["mass_kg"].sum()
    ahead = dict(_by_crop(outlook, [0.5]))
    for crop, own in standing.coming.groupby("crop", sort=True):
        low, high = (own.set_index("day")[name] for name in ("q10_kg", "q90_kg"))
        came = float(picked.get(crop, 0.0))
        if today in low.index:
            if came < low[today] - REAL_KG:
                say(str(crop), "change.less_came", kg=float(low[today] - came))
                continue
            if came > high[today] + REAL_KG:
                say(str(crop), "change.more_came", kg=float(came - high[today]))
                continue
        # Up to the last day that was decided: has the forecast left its own range?
        last = since + pd.Timedelta(days=standing.days)
        step = (last - today).days
        if str(crop) in ahead and 0 < step <= len(ahead[str(crop)]) and last in low.index:
            total = came + float(ahead[str(crop)][step - 1])
            if total < low[last] - REAL_KG:
                say(str(crop), "change.less_due", kg=float(low[last] - total))
            elif total > high[last] + REAL_KG:
                say(str(crop), "change.more_due", kg=float(total - high[last]))
    _done(standing, garden, today, say)
    _counted(standing, garden, today, say)
    return found


def _done(standing: Standing, garden: Garden, today: pd.Timestamp, say: Any) -> None:
    """Say what was decided and not done, and what was done and not decided."""
    book = pantry_book(garden, today)
    book = book[(book["jars"] > 0) & (book["date"] > standing.as_of)]
    done = dict(zip(book["product"], book["date"], strict=True))
    due = standing.batches
    due = due[due["firm"].astype(bool) & (due["day"] <= today) & (due["day"] > standing.as_of)]
    for row in due.drop_duplicates("product").to_dict("records"):
        # Food for the week stands in no pantry book.
        if row["product"] not in done and not product(str(row["product"])).for_the_week:
            say(str(row["crop"]), "change.not_done", label=str(row["label"]), day=row["day"])
    known = set(standing.batches["product"].astype(str))
    for key in dict.fromkeys(done):
        if key not in known:
            say(product(key).crop, "change.also_done", label=product(key).label, day=done[key])


def _counted(standing: Standing, garden: Garden, today: pd.Timestamp, say: Any) -> None:
    """Say what a count found beside what was reckoned with."""
    from harvestcast.kitchen.household.book import produce_events
    from harvestcast.kitchen.household.demand import fresh_use
    from harvestcast.kitchen.household.on_hand import on_hand

    events = produce_events(garden, today)
    new = events[(events["what"] == "counted") & (events["date"] > standing.as_of)]
    crops = sorted(set(new["crop"].astype(str)))
    if standing.as_of == today:
        crops = sorted(standing.lying)
    if not crops:
        return
    fresh = fresh_use(garden, crops)
    lying = on_hand(garden, today, fresh).groupby("crop")["mass_kg"].sum()
    before = pd.Series(standing.lying, dtype=float)
    if standing.as_of != today:
        book = garden.kitchen
        kept = book[~((book["what"] == "counted") & (book["date"] > standing.as_of))]
        without = replace(garden, kitchen=kept.reset_index(drop=True))
        before = on_hand(without, today, fresh).groupby("crop")["mass_kg"].sum()
    for crop in crops:
        more = float(lying.get(crop, 0.0)) - float(before.get(crop, 0.0))
        if abs(more) >= 2 * REAL_KG:
            say(crop, "change.counted", kg=abs(more), more=more > 0)


def hold(
    inputs: ProgrammeInputs, standing: Standing, changes: Mapping[str, Sequence[Said]]
) -> ProgrammeInputs:
    """Return the programme with what was decided before.

    Parameters
    ----------
    inputs : ProgrammeInputs
        The programme.
    standing : Standing
        What was decided.
    changes : mapping
        As :func:`changes_since` returns them: crops that are named may change, at a price.

    Returns
    -------
    ProgrammeInputs
        With ``before`` (batches decided before, NaN where nothing was) and ``firm``.
    """
    names = list(inputs.options["option"].astype(str))
    crops = inputs.options["crop"].astype(str).to_numpy()
    before = np.full((inputs.decided, len(names)), np.nan)
    start = inputs.capacity.start
    until = standing.as_of + pd.Timedelta(days=standing.days)
    for day in range(inputs.decided):
        if start + pd.Timedelta(days=day) <= until:
            before[day] = 0.0
    for row in standing.batches.to_dict("records"):
        day = int((row["day"] - start).days)
        if 0 <= day < inputs.decided and row["option"] in names:
            place = day, names.index(str(row["option"]))
            before[place] = float(row["batches"]) if row["firm"] else np.nan
    before[:, (inputs.options["method"] == "keeping").to_numpy(bool)] = np.nan
    free = np.array(["" in changes or crop in changes for crop in crops], dtype=bool)
    # An empty day is no decision: a batch more may come to it, at its price, but none may go.
    return replace(inputs, before=before, firm=(before > 0) & ~free)


def stood(
    standing: Standing,
    changes: Mapping[str, Sequence[Said]],
    batches: pd.DataFrame,
    *,
    lifted: bool,
) -> pd.DataFrame:
    """Return what became of each batch decided before that is still ahead.

    Parameters
    ----------
    standing : Standing
        What was decided.
    changes : mapping
        What has changed since, by crop.
    batches : pandas.DataFrame
        Table BATCHES of today.
    lifted : bool
        Whether all could not be held together, though nothing was known to have changed.

    Returns
    -------
    pandas.DataFrame
        Columns day, label, jar, was, now (batches), code, facts and reason: a row for each way of
        putting up of which fewer batches are done on their day than were decided.
    """
    today = batches[batches["decided"] & (batches["method"] != "keeping")]
    now = {(row["day"], option_key(row)): row for row in today.to_dict("records")}
    firm = standing.batches[standing.batches["firm"].astype(bool)]
    was = {(row["day"], str(row["option"])): row for row in firm.to_dict("records")}
    until = standing.as_of + pd.Timedelta(days=standing.days)
    start = batches["day"].min() if len(batches) else until
    rows = []
    for key, one in was.items():
        before = float(one["batches"])
        after = float(now[key]["batches"]) if key in now else 0.0
        if after >= before or not start <= key[0] <= until:
            continue
        causes = [*changes.get(str(one["crop"]), ()), *changes.get("", ())]
        if not causes:
            causes = [Said("change.limits" if lifted else "change.no_way")]
        reason = "; ".join(cause.text for cause in causes)
        facts = {"causes": [{"code": cause.code, "facts": dict(cause.facts)} for cause in causes]}
        rows.append((key[0], str(one["label"]), str(one["jar"]), before, after, causes[0].code,
                     facts, reason))  # fmt: skip
    return pd.DataFrame(rows, columns=CHANGED)


CHANGED = ["day", "label", "jar", "was", "now", "code", "facts", "reason"]
"""Columns of what no longer stands."""


def as_decided(
    batches: pd.DataFrame, standing: Standing, changes: Mapping[str, Sequence[Said]]
) -> pd.DataFrame:
    """Return table BATCHES with what stands decided as before, and since when.

    Parameters
    ----------
    batches : pandas.DataFrame
        Table BATCHES of today.
    standing : Standing
        What was decided.
    changes : mapping
        What has changed since, by crop.

    Returns
    -------
    pandas.DataFrame
        A batch that was decided stays so, however lean the futures have become within what was to
        be expected.
    """
    firm = standing.batches[standing.batches["firm"].astype(bool)]
    since = {(row["day"], str(row["option"])): row["since"] for row in firm.to_dict("records")}
    table = batches.copy()
    for at, row in zip(batches.index, batches.to_dict("records"), strict=True):
        key = (row["day"], option_key(row))
        stands = not ("" in changes or str(row["crop"]) in changes)
        if key in since and (row["decided"] or (stands and not pd.isna(row["if_kg"]))):
            table.loc[at, ["decided", "if_kg", "since"]] = [True, np.nan, since[key]]
    return table


def to_plain(standing: Standing) -> dict[str, Any]:
    """Return a decision as values of JSON."""

    def plain(table: pd.DataFrame) -> list[dict[str, Any]]:
        return [
            {
                str(name): value.date().isoformat()
                if isinstance(value, pd.Timestamp)
                else None
                if pd.isna(value)
                else value
                if isinstance(value, bool | str)
                else float(value)
                for name, value in row.items()
            }
            for row in table.to_dict("records")
        ]

    return {
        "as_of": standing.as_of.date().isoformat(),
        "days": standing.days,
        "batches": plain(standing.batches),
        "coming": plain(standing.coming),
        "lying": dict(standing.lying),
        "settings": dict(standing.settings),
        "shopping": plain(standing.shopping),
    }


def from_plain(run: Mapping[str, Any]) -> Standing | None:
    """Return a decision that :func:`to_plain` made; None where it is not one of this version."""
    try:
        batches = pd.DataFrame(run["batches"], columns=_BATCH)
        coming = pd.DataFrame(run["coming"], columns=_COMING)
        for table, name in ((batches, "day"), (batches, "since"), (coming, "day")):
            table[name] = pd.to_datetime(table[name])
        return Standing(
            as_of=pd.Timestamp(run["as_of"]),
            days=int(run["days"]),
            batches=batches,
            coming=coming,
            lying={str(crop): float(kg) for crop, kg in run["lying"].items()},
            settings={str(key): str(value) for key, value in run["settings"].items()},
            shopping=pd.DataFrame(run["shopping"], columns=_SHOP),
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        return None
