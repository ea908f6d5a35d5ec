"""The household's settings, as typed in ``garden.toml``.

Inside the library every amount is metric; a key of the file may instead end in a customary
unit (``elevation_ft``, ``free_gal``, ``eat_lb_per_person_week``) and is converted at the door.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from numbers import Real
from types import MappingProxyType
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from harvestcast.records.messages import unreadable
from harvestcast.records.typed.jar_sizes import jar_size
from harvestcast.units import (
    KG_PER_LB,
    KG_PER_OZ,
    KPA_PER_PSI,
    L_PER_CUFT,
    L_PER_CUP,
    L_PER_QUART,
    M2_PER_SQFT,
    M_PER_FT,
    M_PER_IN,
)

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[str, ...] = get_args(Weekday)

TO_METRIC: dict[str, tuple[str, float]] = {
    "ft2": ("m2", M2_PER_SQFT),
    "in2": ("m2", M_PER_IN**2),
    "ft": ("m", M_PER_FT),
    "in": ("m", M_PER_IN),
    "lb": ("kg", KG_PER_LB),
    "oz": ("kg", KG_PER_OZ),
    "gal": ("l", 16 * L_PER_CUP),
    "qt": ("l", L_PER_QUART),
    "cups": ("l", L_PER_CUP),
    "ft3": ("l", L_PER_CUFT),
    "cm": ("m", 0.01),
    "psi": ("kpa", KPA_PER_PSI),
}

MonthDay = Annotated[str, Field(pattern=r"^(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$")]
Amount = Annotated[float, Field(ge=0)]
AnyList = Field(strict=False)
"""A list of TOML is taken for a tuple; what stands in it is as strict as all else."""
HoursOfDay = Annotated[float, Field(ge=0, le=24)]


def is_number(value: object) -> bool:
    """Return whether a value is a number; true and false are none, though Python counts them so.

    Examples
    --------
    >>> is_number(2), is_number(0.5), is_number(True), is_number("2")
    (True, True, False, False)
    """
    return isinstance(value, Real) and not isinstance(value, bool)


def to_metric_keys(table: Mapping[str, Any]) -> dict[str, Any]:
    """Convert every key of one table that ends in a customary unit to its metric twin.

    Parameters
    ----------
    table : mapping
        Keys and values of one level of ``garden.toml``.

    Returns
    -------
    dict
        The same with metric keys: ``elevation_ft = 1000`` becomes ``elevation_m = 304.8``.

    Raises
    ------
    harvestcast.errors.TypedError
        Where a quantity is given twice, in both units.

    Examples
    --------
    >>> to_metric_keys({"elevation_ft": 1000.0})
    {'elevation_m': 304.8}
    """
    metric: dict[str, Any] = {}
    for key, value in table.items():
        name, amount = key, value
        for unit, (twin, factor) in TO_METRIC.items():
            match = re.fullmatch(rf"(.+)_{unit}((?:_per_\w+|_week)?)", key)
            if match and not isinstance(value, Mapping):
                # What is no number keeps its value, and is refused under the metric name.
                name = f"{match[1]}_{twin}{match[2]}"
                amount = round(value * factor, 9) if is_number(value) else value
                break
        if name in metric:
            raise unreadable("setting.two_units", key=name)
        metric[name] = amount
    return metric


class _Settings(BaseModel):
    # Strict: true is no number, "3" is no number, 2.0 is no whole number; nothing is guessed.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)

    @model_validator(mode="before")
    @classmethod
    def _metric(cls, data: Any) -> Any:
        return to_metric_keys(data) if isinstance(data, Mapping) else data


class CropSettings(_Settings):
    """What the household says of one crop; every key may be left out."""

    eat_kg_per_person_week: Amount | None = None
    """Fresh use that the household enjoys."""
    eat_at_most_kg_per_person_week: Amount | None = None
    """Ceiling of fresh use when there is plenty."""
    give_kg_week: Amount | None = None
    """Given away in a week at most."""
    animals_kg_week: Amount | None = None
    """Fed to animals in a week at most (what suits them is the household's judgement)."""
    keep: Literal["refrigerator", "counter", "cool_store"] | None = None
    """Where it is kept fresh."""
    keep_days: Amount | None = None
    ripen_days: Amount | None = None
    """Days on the counter between the pick and use, for crops picked before they are ripe."""
    aliases: Annotated[tuple[str, ...], AnyList] = ()
    """Further names under which the crop stands in the log."""
    varieties_apart: Annotated[tuple[str, ...], AnyList] = ()
    """Names of varieties that are none of those that are spelt much like them."""
    base_c: float | None = None
    upper_c: float | None = None
    degree_days_to_first_pick: Amount | None = None
    fruit_kg: Annotated[float, Field(gt=0)] | None = None
    yield_kg_per_plant: Annotated[float, Field(gt=0)] | None = None
    weeks_of_picking: Annotated[float, Field(gt=0)] | None = None
    tender: bool | None = None
    perennial: bool | None = None


class Equipment(_Settings):
    """One piece of kitchen equipment, or several alike (``number``)."""

    kind: Literal[
        "boiling_water_canner",
        "pressure_canner",
        "dryer",
        "freezer",
        "refrigerator",
        "cool_store",
        "crock",
    ]
    name: str = ""
    number: Annotated[int, Field(ge=1, le=20)] = 1
    half_pints: Annotated[int, Field(ge=0)] | None = None
    """Load of half-pint jars (canners); left out: the usual load of the handbook."""
    pints: Annotated[int, Field(ge=0)] | None = None
    quarts: Annotated[int, Field(ge=0)] | None = None
    gauge: Literal["dial", "weighted"] | None = None
    """Gauge of a pressure canner; required there."""
    trays: Annotated[int, Field(ge=1)] | None = None
    tray_area_m2: Annotated[float, Field(gt=0)] | None = None
    free_l: Amount | None = None
    """Free space of a freezer, refrigerator or cool store; volume of a crock."""

    @property
    def vessel(self) -> str:
        """What a batch is done in: the kind, for a pressure canner with its gauge.

        Pressure differs by gauge, and so does how far up the tables go.
        """
        return f"{self.gauge}_gauge_{self.kind}" if self.kind == "pressure_canner" else self.kind

    @model_validator(mode="after")
    def _complete(self) -> Equipment:
        if self.kind == "pressure_canner" and self.gauge is None:
            raise unreadable("setting.no_gauge")
        if self.kind in ("freezer", "refrigerator", "cool_store", "crock") and self.free_l is None:
            raise unreadable("setting.no_volume", kind=self.kind.replace("_", " "))
        return self


class Recipe(_Settings):
    """A tested recipe of the household's own: one way of canning a product, from a publication."""

    product: str
    """Product of the catalogue, by any of its names."""
    jar: Literal["half_pint", "pint", "quart"]
    """Jar of the tested process."""
    method: Literal["boiling_water", "pressure"]
    gauge: Literal["dial", "weighted"] | None = None
    """Gauge of the pressure canner; required there."""
    pressure_kpa: Annotated[float, Field(gt=0)] | None = None
    """Gauge pressure; required in a pressure canner."""
    minutes: Annotated[float, Field(gt=0, le=600)]
    headspace_m: Annotated[float, Field(gt=0, le=0.1)]
    pack: Literal["raw", "hot"]
    acid: str = "none_added"
    """How it gets its acid, as the guide's processes say it; ``each_jar`` with its amount."""
    lemon_juice_tbsp: Amount | None = None
    """Bottled lemon juice in each jar, where ``acid`` is ``each_jar``."""
    elevation_from_m: Annotated[float, Field(ge=0, le=5000)] | None = None
    elevation_to_m: Annotated[float, Field(ge=0, le=5000)] | None = None
    """Highest elevation that it was tested for; left out: none is named."""
    source: str = ""
    """Publication that it comes from: title, number, year, page. Refused without."""

    @model_validator(mode="after")
    def _complete(self) -> Recipe:
        if self.method == "pressure" and (self.gauge is None or self.pressure_kpa is None):
            raise unreadable("setting.recipe_pressure")
        if self.method == "boiling_water" and (self.gauge or self.pressure_kpa):
            raise unreadable("setting.recipe_water")
        return self


class Choices(_Settings):
    """How the household weighs one thing against another when the week is planned, in points.

    One point is about the worth of a kilogram of produce kept from spoiling.
    """

    spoiled_kg: Amount = 1.0
    hour: Amount = 1.5
    target_jar: Amount = 3.0
    """Worth of a pint jar towards a target that is still far off; falls as the target nears."""
    extra_jar: Amount = 0.3
    """Worth of a pint jar beyond its target."""
    fresh_kg: Amount = 2.0
    dislike_of_bad_weeks: Annotated[float, Field(ge=0, le=1)] = 0.0
    """Weight of the worst tenth of futures (conditional value at risk); 0 plans on the mean."""
    bought_jar: Amount = 1.0
    """Price of one jar bought, its first lid included, in points."""
    bought_lid: Amount = 0.2
    """Price of one lid or freezer bag bought, in points."""
    change: Amount = 1.0
    """Price of a batch more, or less, on a day that was decided before, in points."""
    most_purchase: Amount | None = None
    """Jars, lids and bags bought for one plan at most, in pieces; left out: no limit."""


def _day(typed: str) -> str:
    """Return a day as it was typed; anything else is refused."""
    try:
        if date.fromisoformat(typed).isoformat() == typed:
            return typed
    except ValueError:
        pass
    raise unreadable("setting.day")


def _frozen(table: Mapping[str, Any]) -> Mapping[str, Any]:
    return MappingProxyType(dict(table))


def _sized(jars: Mapping[str, Any]) -> dict[str, Any]:
    """Return the jars in stock by the size of the tables that their name says.

    A name that says none of these very sizes stays as typed, and is said not to be used.
    """
    sized: dict[str, Any] = {}
    for name, number in jars.items():
        try:
            said = jar_size(name)
        except ValueError:
            said = None
        key = said.size if said is not None and said.size and said.exact else name
        if key in sized:
            raise unreadable("setting.jars_twice", size=key)
        sized[key] = number
    return sized


class Household(_Settings):
    """All settings of one garden folder; frozen."""

    place: str = ""
    elevation_m: Annotated[float, Field(ge=-430, le=5000)] | None = None
    """Required before any canning time is shown."""
    units: Literal["us", "metric"] = "metric"
    people: Annotated[float, Field(gt=0)] = 2
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    """Degrees, south of the equator negative; says when the garden's season begins, and what
    weather to expect where few years are on record."""
    hemisphere: Literal["north", "south"] | None = None
    """The same where nobody wants to look the latitude up; left out: found from the weather."""
    last_frost: MonthDay | None = None
    first_frost: MonthDay | None = None
    day_without_row: Literal["not_picked", "nothing_ripe"] = "not_picked"
    date_order: Literal["year_first", "month_first", "day_first"] = "year_first"
    """How dates such as 7/5/2026 are read; year_first refuses them as ambiguous."""
    counted_on: Annotated[str, AfterValidator(_day)] | None = None
    """Day on whose evening jars, stock and free room below were counted, year first; left out:
    before the first batch of the season."""
    bed_area_m2: Annotated[float, Field(gt=0)] | None = None
    """Bed area to plant next season; left out: as much as this season took."""
    crops: Annotated[Mapping[str, CropSettings], AfterValidator(_frozen)] = Field(
        default_factory=dict, validate_default=True
    )
    equipment: Annotated[tuple[Equipment, ...], AnyList] = ()
    stove_places: Annotated[int, Field(ge=1, le=20)] | None = None
    """Canners that can stand on the stove at a time; left out: all there are."""
    hours: Annotated[Mapping[Weekday, HoursOfDay], AfterValidator(_frozen)] = Field(
        default_factory=dict, validate_default=True
    )
    """Hands-on hours for putting up, per weekday; a weekday left out has none."""
    jars: Annotated[Mapping[str, Amount], AfterValidator(_frozen)] = Field(
        default_factory=dict, validate_default=True
    )
    """Empty jars and new lids in stock: half_pint, pint, quart, lids, freezer_bags."""
    stock: Annotated[Mapping[str, Amount], AfterValidator(_frozen)] = Field(
        default_factory=dict, validate_default=True
    )
    """Ingredients in stock, unit in the key: vinegar_l, salt_kg, sugar_kg, onion_kg."""
    targets: Annotated[Mapping[str, Amount], AfterValidator(_frozen)] = Field(
        default_factory=dict, validate_default=True
    )
    """Jars a year per product."""
    recipes: Annotated[tuple[Recipe, ...], AnyList] = ()
    """Tested recipes of the household's own."""
    choices: Choices = Choices()

    def __reduce__(self) -> tuple[Any, ...]:
        plain = {k: dict(v) if isinstance(v, Mapping) else v for k, v in self}
        return (Household.model_validate, (plain,))

    @model_validator(mode="before")
    @classmethod
    def _metric_stock(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and isinstance(data.get("stock"), Mapping):
            data = {**data, "stock": to_metric_keys(data["stock"])}
        if isinstance(data, Mapping) and isinstance(data.get("jars"), Mapping):
            data = {**data, "jars": _sized(data["jars"])}
        return data
