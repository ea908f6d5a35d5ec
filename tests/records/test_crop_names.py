"""Crops are known by any common name, and two that differ are never mixed up."""

import csv
from importlib.resources import files

import pytest

from harvestcast.records.tables.headings import PICK_FIELDS
from harvestcast.records.typed.crops import (
    PERENNIALS,
    TWO_CROPS,
    canonical_crop,
    crop_key,
    crop_names,
    likely_crop,
    tidy_name,
    two_crops,
)

ROWS = [
    row
    for name in ("crop_names", "further_crop_names")
    for row in csv.DictReader(
        (files("harvestcast.records.typed") / "data" / f"{name}.csv")
        .read_text("utf-8")
        .splitlines()
    )
]


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["synonym"])
def test_every_listed_name_is_known_in_any_case_and_plural(row: dict[str, str]) -> None:
    name, crop = row["synonym"], row["crop"]
    plural = name if name.endswith("s") else f"{name}s"
    for typed in (name, name.upper(), f"  {name.title()} ", plural):
        assert canonical_crop(typed) == crop, typed


@pytest.mark.parametrize(
    ("typed", "crop"),
    [
        ("Tomatoes", "tomato"),
        ("POTATOES", "potato"),
        ("Strawberries", "strawberry"),
        ("Peaches", "peach"),
        ("jalapeños", "hot pepper"),
        ("peppers, hot", "hot pepper"),
        ("Beans (green)", "snap bean"),
        ("brussels sprouts", "brussels sprout"),
        ("Swiss chard", "chard"),
        ("Radishes", "radish"),
        ("chives", "chives"),
        ("Courgettes", "zucchini"),
        ("Bok choy", "pak choi"),
    ],
)
def test_plurals_accents_and_turned_names(typed: str, crop: str) -> None:
    assert canonical_crop(typed) == crop


def test_no_name_means_two_crops() -> None:
    seen: dict[str, str] = {}
    for row in ROWS:
        key = crop_key(row["synonym"])
        assert seen.setdefault(key, row["crop"]) == row["crop"], key


def test_canonical_names_are_lower_case_singular_and_name_themselves() -> None:
    names = crop_names()
    assert len(names) >= 50
    for name in names:
        assert name == tidy_name(name) and canonical_crop(name) == name
    assert set(names) >= PERENNIALS
    assert all(set(two) <= set(names) for two in TWO_CROPS.values())


def test_a_name_of_two_crops_is_left_alone_unless_the_household_says() -> None:
    assert canonical_crop("squash") is None
    assert canonical_crop("Squash", {"squash": "winter squash"}) == "winter squash"
    assert canonical_crop("grandmother's beans", {"Grandmothers Beans": "shell bean"}) == (
        "shell bean"
    )


@pytest.mark.parametrize(
    ("typed", "crop"),
    [
        ("Gurken", "cucumber"),
        ("MÖHREN", "carrot"),
        ("Moehren", "carrot"),
        ("Süßkartoffeln", "sweet potato"),
        ("haricots verts", "snap bean"),
        ("Épinards", "spinach"),
        ("choux-fleurs", "cauliflower"),
        ("calabacines", "zucchini"),
        ("judias verdes", "snap bean"),
        ("Zanahorias", "carrot"),
        ("pomodorini", "cherry tomato"),
        ("Melanzane", "eggplant"),
        ("uien", "onion"),
        ("sperziebonen", "snap bean"),
        ("aardappelen", "potato"),
    ],
)
def test_usual_names_of_five_languages_with_and_without_accents(typed: str, crop: str) -> None:
    assert canonical_crop(typed) == crop


@pytest.mark.parametrize("typed", ["Haricots", "Peperoni", "Kürbisse", "judías", "pompoenen"])
def test_a_foreign_name_of_two_crops_is_asked_about(typed: str) -> None:
    assert canonical_crop(typed) is None
    two = two_crops(typed)
    assert two is not None and two[0] != two[1]


def test_no_name_of_a_crop_is_a_heading_or_means_two_crops() -> None:
    names = {crop_key(row["synonym"]) for row in ROWS}
    headings = {word for line in PICK_FIELDS.values() for word in line.split("|")}
    assert not names & headings
    assert not names & set(TWO_CROPS)


@pytest.mark.parametrize("typed", ["", "  ", "oca", "---", "🍅", "x" * 5000])
def test_unknown_names_are_none(typed: str) -> None:
    assert canonical_crop(typed) is None


def test_a_slip_gives_a_hint_and_nothing_more() -> None:
    assert canonical_crop("cucmber") is None
    assert likely_crop("cucmber") == "cucumber"
    assert likely_crop("qqqq") is None
