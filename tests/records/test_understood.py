"""What was typed otherwise than meant, or in other words than the file's, is said once and kept."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.importing.preview import read_foreign
from harvestcast.records.importing.write import import_into
from harvestcast.records.messages import Remark
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PICK_FIELDS, find_fields
from harvestcast.records.tables.text import parse_text
from harvestcast.records.typed.crops import likely_crop
from harvestcast.records.writing.add import Entry, add_pick, undo_last
from harvestcast.records.writing.phrase import hours_of
from tests.records.conftest import GOOD

Maker = Callable[..., Path]
TODAY = dt.date(2026, 7, 25)


def add(folder: Path, *words: str, **more: str) -> Entry:
    return add_pick(folder, *words, today=TODAY, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("words", "more", "said"),
    [
        (("gherkins", "34"), {}, [("crop.read_as", "cucumber")]),
        (("Cucumbers", "34"), {}, []),
        (("cucumber", "2 dozen"), {}, [("typed.count", 24)]),
        (("cucumber", "half a dozen"), {}, [("typed.count", 6)]),
        (("cucumber", "1/2 kg"), {}, [("typed.mass", "0.5 kg")]),
        (("cucumber", "3 lb 4 oz"), {}, [("typed.mass", "1.47 kg")]),
        (("cucumber", "4"), {"weight": "1.5kg"}, []),
        (("cucumber", "4"), {"weight": "600g"}, [("typed.mass", "0.6 kg")]),
        (("cucumber", "nothing"), {}, [("typed.none", "nothing")]),
        (("cucumber", "none"), {}, []),
        (("cucumber", "5"), {"oversize": "a dozen"}, [("typed.count", 12)]),
        (("cucumber", "4"), {"weight": "5200 kg"}, [("typed.fruit", 1300.0)]),
        (("cucumber", "5200 kg"), {}, [("typed.too_much", 5200.0)]),
    ],
)
def test_an_entry_says_what_it_understood(
    make: Maker, words: tuple[str, ...], more: dict[str, str], said: list[tuple[str, object]]
) -> None:
    """Each remark has its code, and among its facts what was understood."""
    remarks = add(make(), *words, **more).remarks
    assert [one.code for one in remarks] == [code for code, _ in said]
    for remark, (_, meant) in zip(remarks, said, strict=True):
        assert meant in remark.facts.values() and str(remark)


def test_an_entry_far_beyond_the_last_ones_is_said_and_kept(make: Maker) -> None:
    picks = GOOD["picks.csv"] + "".join(f"2026-07-{d},cucumber,Fennick,{d},,,\n" for d in (21, 22))
    entry = add(make(picks=picks), "cucumber", "3400")
    assert entry.remarks == (Remark("typed.far_count", {"crop": "cucumber", "most": 22.0}),)
    assert entry.lines == ("2026-07-25,cucumber,Fennick,3400,,,",)


@pytest.mark.parametrize(("typed", "said"), [("300", True), ("60", False)])
def test_a_count_with_a_slipped_digit_is_said(make: Maker, typed: str, said: bool) -> None:
    rows = "".join(f"2026-07-{d},cucumber,Fennick,{d - 5},,,\n" for d in range(12, 21))
    remarks = add(make(picks=GOOD["picks.csv"] + rows), "cucumber", typed).remarks
    assert [one.code for one in remarks] == (["typed.far_count"] if said else [])


@pytest.mark.parametrize(
    ("before", "typed", "said"),
    [
        ([5, 5], "400", True),
        ([5, 5], "40", False),
        ([5], "400", True),
        ([], "400", False),
        ([5, 9, 7, 8], "95", False),
        ([5, 9, 7, 8], "110", True),
        ([5, 9, 7, 8, 6, 9, 7], "75", True),
        ([5, 9, 7, 8, 6, 9, 7, 9, 8, 7], "55", True),
    ],
)
def test_a_pick_written_down_is_judged_as_the_check_judges_it(
    make: Maker, before: list[int], typed: str, said: bool
) -> None:
    lines = "".join(f"2026-07-{n:02d},okra,,{count},,,\n" for n, count in enumerate(before, 1))
    folder = make(picks=GOOD["picks.csv"] + lines)
    remarks = add(folder, "okra", typed).remarks
    assert ("typed.far_count" in {one.code for one in remarks}) == said
    notices = check_garden(folder, today=TODAY)[1]
    assert notices["code"].eq("amount.far_count").any() == said


def test_a_pick_is_judged_by_the_logs_of_earlier_years_too(make: Maker) -> None:
    folder = make(**{
        "picks-2025.csv": "date,crop,count\n2025-07-05,okra,5\n2025-07-09,okra,6\n",
        "picks.csv": None,
        "picks-2026.csv": "date,crop,count\n",
    })  # fmt: skip
    assert "typed.far_count" in {one.code for one in add(folder, "okra", "400").remarks}


@pytest.mark.parametrize(
    ("before", "typed", "said"),
    [
        ((10, 8), 350, ("too_much", None)),
        ((2, 3), 450 * 2 / 3, None),
        ((0.5, 0.6), 250, ("far_weight", "more")),
        ((0.5, 0.6, 0.9), 50, ("far_weight", "more")),
        ((0.5, 0.6, 0.9), 0.001, ("far_weight", "less")),
    ],
)
def test_a_weight_is_judged_the_same_by_both(
    make: Maker, before: tuple[float, ...], typed: float, said: tuple[str, str | None] | None
) -> None:
    lines = "".join(f"2026-07-{n:02d},okra,{kg},\n" for n, kg in enumerate(before, 1))
    folder = make(picks="date,crop,weight_kg,note\n" + lines)
    remarks = add(folder, "okra", f"{typed} kg").remarks
    notices = check_garden(folder, today=TODAY)[1]
    found = [(one.code, one.facts.get("far")) for one in remarks]
    found += [(row.code, row.facts.get("far")) for row in notices.itertuples()]
    judged = [(code, far) for code, far in found if code.endswith(("far_weight", "too_much"))]
    rooms = ("typed", "amount") if said else ()
    assert judged == [(f"{room}.{said[0]}", said[1]) for room in rooms if said]


@pytest.mark.parametrize(
    ("typed", "code", "name"),
    [
        ("row", "variety.read_as", "Brick Row"),
        ("lantern ol", "variety.read_as", "Old Lantern"),
        ("Brik Row", "variety.not_among", "Brick Row"),
        ("Rowdy", "variety.not_among", ""),
    ],
)
def test_a_variety_is_known_by_words_of_its_name(
    make: Maker, typed: str, code: str, name: str
) -> None:
    entry = add(make(), "tomato", "4", variety=typed)
    (remark,) = entry.remarks
    read = code == "variety.read_as"
    assert (remark.code, remark.facts["variety" if read else "meant"]) == (code, name)
    assert entry.picks[0].variety == (name if read else typed)


def test_words_of_two_varieties_are_asked_about(make: Maker) -> None:
    folder = make(plantings=GOOD["plantings.csv"] + "tomato,Low Row,B,2026-05-25,set_out,6\n")
    with pytest.raises(InputError) as caught:
        add(folder, "tomato", "4", variety="row")
    (problem,) = caught.value.problems
    assert problem.code == "variety.several" and problem.facts["words"]
    assert problem.facts["varieties"] == ["Brick Row", "Low Row"]


def test_bed_and_time_are_answered_as_understood(make: Maker) -> None:
    folder = make(picks="date,crop,variety,count,bed,hours\n")
    entry = add(folder, "cucumber", "4", bed="E2", hours="20 min")
    assert entry.says == "cucumber Fennick, 2026-07-25: 4; bed E2; 20 min"
    assert add(folder, "cucumber", "5", hours="1.5").says.endswith(": 5; 1.5 h")


@pytest.mark.parametrize("typed", ["1h30", "1 h 30", "1h30min", "90 min", "1.5"])
def test_a_number_behind_hours_is_minutes(typed: str) -> None:
    findings = Findings()
    assert hours_of(typed, findings) == pytest.approx(1.5) and not findings.problems


@pytest.mark.parametrize("typed", ["1 30", "20 min 30", "1h30 15", "1 day"])
def test_a_time_that_may_be_two_is_refused(typed: str) -> None:
    findings = Findings()
    assert hours_of(typed, findings) is None
    assert [one.code for one in findings.problems] == ["hours.unreadable"]


def test_one_letter_is_enough_where_one_planted_variety_begins_so(make: Maker) -> None:
    entry = add(make(), "tomato", "4", variety="b")
    assert entry.lines == ("2026-07-25,tomato,Brick Row,4,,,",)
    assert entry.remarks == (Remark("variety.read_as", {"typed": "b", "variety": "Brick Row"}),)


def test_the_beginning_of_two_varieties_is_asked_about(make: Maker) -> None:
    planted = GOOD["plantings.csv"] + "tomato,Brick Top,B,2026-05-25,set_out,6\n"
    folder = make(plantings=planted)
    with pytest.raises(InputError) as caught:
        add(folder, "tomato", "4", variety="bri")
    (problem,) = caught.value.problems
    assert problem.value == "bri" and "Brick Row" in problem.rule and "Brick Top" in problem.rule
    assert add(folder, "tomato", "4", variety="brick t").lines[0].count("Brick Top") == 1


def test_a_second_harvest_of_the_day_is_said(make: Maker) -> None:
    folder = make()
    assert add(folder, "cucumber", "9").remarks == ()
    second = add(folder, "cucumber", "9")
    assert second.remarks == (Remark("log.second_basket", {"note": "basket 2"}),)


@pytest.mark.parametrize(
    ("typed", "grown", "meant"),
    [
        ("cucmber", (), "cucumber"),
        ("oinons", (), "onion"),
        ("beens", ("snap bean",), "snap bean"),
        ("kail", (), "kale"),
        ("quinoa", (), None),
        ("amaranth", ("tomato",), None),
    ],
)
def test_the_crop_meant(typed: str, grown: tuple[str, ...], meant: str | None) -> None:
    assert likely_crop(typed, grown) == meant


def test_a_misspelt_crop_is_said_once_with_what_was_meant(make: Maker) -> None:
    folder = make(picks=GOOD["picks.csv"] + "2026-07-21,tomtoes,Brick Row,3,,,\n" * 1)
    garden = open_garden(folder, today=TODAY)
    assert garden.notices[["line", "code", "facts"]].to_numpy().tolist() == [
        [5, "crop.unknown", {"crop": "tomtoes", "meant": "tomato"}]
    ]
    assert "tomtoes" in set(garden.picks["crop"])


def test_a_weight_in_another_unit_stands_out_without_a_count(make: Maker) -> None:
    """Four usual picks of 2 to 3 lb; one typed in grams, one typed in pounds under grams."""
    usual = "".join(f"2026-07-{d},tomato,Brick Row,,{w},,\n" for d, w in ((1, 2.5), (2, 3), (3, 2)))
    heading = "date,crop,variety,count,weight_lb,grade,note\n"
    garden = open_garden(
        make(
            garden=GOOD["garden.toml"].replace("metric", "us"),
            picks=heading + usual + "2026-07-04,tomato,Brick Row,,1180,,\n",
        ),
        today=TODAY,
    )
    assert garden.notices[["line", "code"]].to_numpy().tolist() == [[5, "amount.far_weight"]]
    facts = garden.notices["facts"].iloc[0]
    assert (facts["crop"], facts["far"], facts["units"]) == ("tomato", "more", "us")
    assert facts["usual_kg"] == pytest.approx(2.5 * 0.45359237)
    heading = heading.replace("weight_lb", "weight_g")
    grams = "".join(f"2026-07-{d},tomato,Brick Row,,{w},,\n" for d, w in ((1, 900), (2, 1300)))
    garden = open_garden(
        make("g", picks=heading + grams + "2026-07-04,tomato,Brick Row,,1.2,,\n"), today=TODAY
    )
    assert garden.notices["line"].to_list() == [4]
    assert garden.notices["facts"].iloc[0]["far"] == "less"
    assert garden.picks["mass_kg"].min() == pytest.approx(0.0012)  # never changed


def test_a_season_from_first_handful_to_glut_is_not_called_odd(make: Maker) -> None:
    weights = [0.03, 0.05, 0.2, 0.8, 2.5, 4.0]
    lines = "".join(f"2026-07-{n:02d},tomato,Brick Row,,{w},,\n" for n, w in enumerate(weights, 1))
    folder = make(picks="date,crop,variety,count,weight_kg,grade,note\n" + lines)
    assert open_garden(folder, today=TODAY).notices.empty


def test_fahrenheit_under_celsius_is_said_once_with_its_cure(make: Maker) -> None:
    days = [
        f"2026-{5 + n // 28:02d}-{1 + n % 28:02d},{50 + n % 9},{72 + n % 15},0\n" for n in range(60)
    ]
    problems, _ = check_garden(
        make(weather="date,tmin_c,tmax_c,rain_mm\n" + "".join(days)), today=TODAY
    )
    (problem,) = problems
    assert (problem.file, problem.line, problem.column, problem.value, problem.code) == (
        "weather.csv",
        2,
        "tmax_c",
        "72",
        "weather.fahrenheit",
    )
    assert problem.facts == {"hot": 60, "days": 60, "heading": "tmax_c", "other": "tmin_c"}
    mended = "date,tmin_f,tmax_f,rain_mm\n" + "".join(days)
    assert check_garden(make("mended", weather=mended), today=TODAY)[0] == ()


def test_celsius_under_fahrenheit_is_said(make: Maker) -> None:
    start = dt.date(2025, 7, 1)
    days = [f"{start + dt.timedelta(n)},{5 + n % 9},{15 + n % 15},0\n" for n in range(380)]
    garden = open_garden(make(weather="date,tmin_f,tmax_f,rain_mm\n" + "".join(days)), today=TODAY)
    said = garden.notices.loc[garden.notices["code"] == "weather.celsius", "facts"]
    assert said.to_list() == [{"days": 380, "warmest": 29.0}]


@pytest.mark.parametrize(
    ("headings", "taken"),
    [
        (("Datum", "Gemüse", "Sorte", "Stückzahl", "Gewicht (kg)", "Bemerkung"), "German"),
        (("Fecha", "Cultivo", "Variedad", "Cantidad", "Peso (kg)", "Notas"), "Spanish"),
        (("Jour", "Légume", "Variété", "Quantité", "Poids (kg)", "Remarque"), "French"),
        (("Data", "Ortaggio", "Varietà", "Quantità", "Peso (kg)", "Nota"), "Italian"),
        (("Datum", "Gewas", "Ras", "Aantal", "Gewicht (kg)", "Opmerking"), "Dutch"),
    ],
)
def test_headings_in_other_languages(make: Maker, headings: tuple[str, ...], taken: str) -> None:
    folder = make(picks=",".join(headings) + "\n2026-07-10,cucumber,Fennick,4,0.5,warm\n")
    garden = open_garden(folder, today=TODAY)
    assert garden.notices.empty, taken
    pick = garden.picks.iloc[0]
    assert (pick["count"], pick["mass_kg"], pick["note"]) == (4, 0.5, "warm")


def test_an_import_is_taken_back_whole_but_only_unchanged(make: Maker) -> None:
    folder = make()
    log = folder.parent / "old.csv"
    log.write_text("date,crop,count\n2026-06-01,radish,12\n2026-06-03,radish,9\n", "utf-8")
    add(folder, "cucumber", "41")
    done = import_into(folder, read_foreign(log, folder=folder))
    assert done.picks == 2 and (folder / done.file).exists()
    assert undo_last(folder).says == "2 picks from old.csv"
    assert not (folder / done.file).exists()
    done = import_into(folder, read_foreign(log, folder=folder))
    add(folder, "cucumber", "42")
    assert "42" in undo_last(folder).says  # the later entry goes first
    written = (folder / done.file).read_text("utf-8")
    (folder / done.file).write_text(written + "2026-06-04,radish,,,,,,,\n", "utf-8")
    with pytest.raises(InputError) as caught:
        undo_last(folder)
    assert [p.code for p in caught.value.problems] == ["entry.file_changed"]
    assert (folder / done.file).exists()


def test_the_order_of_dates_that_the_others_show_is_named(make: Maker) -> None:
    text = "date,crop,variety,count\n5.7.2026,cucumber,Fennick,4\n25.7.2026,cucumber,Fennick,5\n"
    problems, _ = check_garden(make(picks=text), today=TODAY)
    (problem,) = problems
    assert (problem.code, problem.facts["orders"]) == ("date.ambiguous", ["day_first"])
    assert 'date_order = "day_first"' in problem.cure


def test_a_year_that_cannot_be_meant_is_said_once(make: Maker) -> None:
    folder = make(picks=GOOD["picks.csv"] + "2052-07-21,okra,,3,,,\n2026-07-21,okra,,3,,,\n")
    problems, notices = check_garden(folder, today=TODAY)
    assert [(p.line, p.value) for p in problems] == [(5, "2052-07-21")]
    assert 5 not in notices["line"].to_list()
    assert not notices["code"].str.startswith("weather").any()


def test_a_planting_that_cannot_be_read_is_no_missing_planting(make: Maker) -> None:
    planted = GOOD["plantings.csv"].replace("2026-05-20", "some day in May")
    planted = planted.replace("Brick Row,B,2026-05-25", "Brick Row,B,later")
    problems, notices = check_garden(make(plantings=planted), today=TODAY)
    assert len(problems) == 2 and notices.empty


def test_a_date_in_the_other_order_is_said_with_the_setting(make: Maker) -> None:
    folder = make(
        garden=GOOD["garden.toml"] + 'date_order = "month_first"\n',
        picks=GOOD["picks.csv"] + "21/7/2026,cucumber,Fennick,3,,,\n",
    )
    (problem,) = check_garden(folder, today=TODAY)[0]
    assert (problem.line, problem.value, problem.code) == (5, "21/7/2026", "date.no_month")
    assert problem.facts == {
        "month": 21,
        "order": "month_first",
        "meant": dt.date(2026, 7, 21),
        "turned": "7/21/2026",
    }
    assert 'date_order = "day_first"' in problem.cure


def test_a_garden_written_in_german(make: Maker) -> None:
    """Headings, ways of planting and months; the Pfund is refused, as it is not one weight."""
    folder = make(
        plantings="Kultur;Sorte;Beet;Datum;Art;Pflanzen;Bemerkung\n"
        "Gurken;Kr\u00fcmmling;3;15. Mai 2026;ges\u00e4t;8;\n"
        "Tomaten;Roter Ritter;2;20 M\u00e4rz 2026;ausgepflanzt;6;\n",
        picks="Datum;Kultur;Sorte;Beet;Anzahl;Gewicht kg\n"
        "10.7.2026;Gurken;Kr\u00fcmmling;3;4;1,5\n",
        garden='elevation_m = 1\ndate_order = "day_first"\n',
    )
    garden = open_garden(folder, today=TODAY)
    assert garden.notices.empty
    assert garden.plantings["how"].to_list() == ["sown", "set_out"]
    assert garden.plantings["plants"].to_list() == [8, 6]
    assert garden.plantings["bed"].to_list() == ["3", "2"]
    assert garden.plantings["date"].dt.month.to_list() == [5, 3]
    assert garden.picks["bed"].to_list() == ["3"]
    bad = make("pounds", picks="date,crop,amount\n2026-07-10,cucumber,2 Pfund\n")
    (problem,) = check_garden(bad, today=TODAY)[0]
    assert (problem.line, problem.code, problem.facts["word"]) == (2, "amount.pound", "pfund")


def test_a_column_of_beets_is_no_bed_where_no_other_names_the_crop() -> None:
    table = parse_text(b"date,beet,kale\n2026-07-10,3,4\n", "log.csv")
    places = find_fields(table, PICK_FIELDS, Findings(), say=False)
    assert "bed" not in places
