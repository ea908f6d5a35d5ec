"""People read their own word for a crop; tables and JSON keep the canonical name."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.settings import read_household
from harvestcast.records.tables.findings import Findings
from harvestcast.records.writing.add import add_pick
from harvestcast.report.command.main import main
from harvestcast.season import messages as season_messages
from harvestcast.words.crops import crop_word, crops_said_as, facts_in_own_words

Maker = Callable[..., Path]
HEAD = "crop,variety,bed,date,how,plants\n"


def _garden(make: Maker, *words: str, name: str = "garden") -> Path:
    """Return a garden that calls chard by words of its own."""
    lines = [f"2026-07-{d:02d},{words[d % len(words)]},,{4 + d},{0.3 * d}\n" for d in range(1, 21)]
    lines += [f"2026-07-{d:02d},{words[0]},,{9 + d},\n" for d in (21, 21)]
    return make(
        name,
        garden='elevation_m = 120\n[crops.chard]\naliases = ["Zaubernuss"]\n',
        plantings=HEAD + f"{words[0]},Fordwick,A,2026-04-20,sown,20\n",
        picks="date,crop,variety,count,weight_kg\n" + "".join(lines),
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("silverbeet",), "silverbeet"),
        (("Silverbeet", "silverbeets"), "silverbeet"),
        (("Swiss chard",), "swiss chard"),
        (("silverbeet", "Zaubernuss"), "silverbeet"),  # an alias is mostly a slip of the pen
        (("Zaubernuss",), "zaubernuss"),
        (("chard",), None),
        (("Chards", "chard"), None),
        (("silverbeet", "chard"), None),  # two words: neither is the household's one
    ],
)
def test_the_one_word_of_the_files_is_the_households(
    make: Maker, words: tuple[str, ...], said: str | None
) -> None:
    garden = open_garden(_garden(make, *words), today="2026-07-25")
    assert garden.crop_words == ({} if said is None else {"chard": said})
    assert set(garden.picks["crop"]) == set(garden.plantings["crop"]) == {"chard"}


def _run(*args: object) -> str:
    done = CliRunner().invoke(main, [str(one) for one in args])
    assert done.exit_code == 0, done.output
    return done.stdout


def test_terminal_page_and_check_say_it_and_json_does_not(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    page = folder.parent / "season.html"
    shown = _run("season", folder, "--year", 2026, "--out", page, "--quiet")
    text = re.sub(r"base64,[^\"]*", "", page.read_text("utf-8"))
    text = re.sub(r"(?s)<style.*?</style>", "", text)
    for said in (shown, text, _run("check", folder), _run("check", folder, "--products")):
        assert re.search("silverbeet", said, re.I)
        # The name of a tested recipe stays: "frozen chard".
        assert not re.search(r"(?<!frozen )(?<!canned )\bchard\b", said, re.I)
    told = json.loads(_run("season", folder, "--year", 2026, "--json", "--no-report"))
    assert {row["crop"] for row in told["varieties"]} == {"chard"}
    notices = json.loads(_run("check", folder, "--json"))["notices"]
    assert "chard" in {row["facts"].get("crop") for row in notices}
    # What one command says in a household's words stays with it.
    assert crop_word("chard") == "chard"


def test_notices_are_said_in_own_words_with_canonical_facts(make: Maker) -> None:
    notices = check_garden(_garden(make, "silverbeet"), today="2026-07-25")[1]
    (row,) = notices[notices["code"] == "variety.only_one"].to_dict("records")
    assert "silverbeet" in row["odd"] and row["facts"]["crop"] == "chard"
    (row,) = notices[notices["code"] == "pick.twice"].to_dict("records")
    assert row["value"] == "2026-07-21 silverbeet Fordwick"


def test_add_writes_the_households_word(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    entry = add_pick(folder, "swiss chard", 3, on="2026-07-22")
    assert entry.lines == ("2026-07-22,silverbeet,Fordwick,3,",)
    assert entry.says.startswith("silverbeet Fordwick") and entry.picks[0].crop == "chard"
    assert "swiss chard was read as silverbeet" in _run("add", folder, "swiss chard", 4)
    shown = _run("add", folder, "silverbeet", 5)
    assert "silverbeet" in shown and "was read as" not in shown
    assert open_garden(folder).crop_words == {"chard": "silverbeet"}


def test_the_first_pick_names_the_crop(make: Maker) -> None:
    folder = make(plantings=HEAD, picks=None)
    shown = _run("add", folder, "broad beans", "2 kg", "--on", "2026-07-20")
    assert "broad beans, 2026-07-20: 2 kg" in shown and "read as fava bean" in shown
    assert "was read as" not in _run("add", folder, "broad bean", "1 kg", "--on", "2026-07-21")
    assert open_garden(folder).crop_words == {"fava bean": "broad beans"}


def test_every_form_of_a_fact_is_said_in_own_words() -> None:
    facts = {"crop": "chard", "crops": [("chard", 2), ("kale", 1)], "kg": {"chard": 1.5}, "n": 3}
    with crops_said_as({"chard": "silverbeet"}):
        said = facts_in_own_words(facts)
    assert said == {
        "crop": "silverbeet", "crops": [("silverbeet", 2), ("kale", 1)],
        "kg": {"silverbeet": 1.5}, "n": 3,
    }  # fmt: skip
    assert facts["crop"] == "chard" and facts_in_own_words(facts) is facts


def test_names_in_own_words_are_said_with_commas() -> None:
    alike = season_messages.said("review.alike", crops=["chard", "kale"])
    with crops_said_as({"chard": "silverbeet"}):
        assert alike.text.endswith(": silverbeet, kale.")


def test_the_list_of_what_is_on_hand_says_it(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    shown = _run("on-hand", folder)
    assert re.search(r"^  silverbeet .*; worked out from the picks, never counted$", shown, re.M)
    assert "chard" not in shown
    (row,) = json.loads(_run("on-hand", folder, "--json"))["produce"]
    assert row["crop"] == "chard" and row["counted_on"] is None


def test_the_list_of_what_is_on_hand_holds_the_shelf(make: Maker) -> None:
    """Nine half pints and a pint are eleven half pints, the usual size of jam; one is eaten."""
    folder = _garden(make, "silverbeet")
    _run("put-up", folder, "strawberry jam", "9 half pints", "--on", "2026-07-18")
    _run("put-up", folder, "strawberry jam", "1 pint", "--on", "2026-07-19")
    _run("used", folder, "strawberry jam", "1 half pint", "--on", "2026-07-20")
    assert re.search(
        r"^  strawberry jam +10 half pints; put up, less", _run("on-hand", folder), re.M
    )
    rows = json.loads(_run("on-hand", folder, "--json"))["shelf"]
    assert [row["jars"] for row in rows if row["product"] == "strawberry_jam"] == [10.0]


def test_a_hint_names_the_crop_as_the_household_does(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    log = folder.parent / "old.csv"
    log.write_text("date,crop,count\n2025-07-01,chardd,3\n", "utf-8")
    assert "did you mean silverbeet?" in _run("import", folder, log)
    done = CliRunner().invoke(main, ["add", str(folder), "chardd", "3"])
    assert done.exit_code == 1 and "Did you mean silverbeet?" in done.stderr


def test_a_count_before_a_weight_is_answered_with_the_way_to_type_it(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    done = CliRunner().invoke(main, ["add", str(folder), "silverbeet", "7", "2.1kg"])
    assert (
        done.exit_code == 1 and "Type a count and its weight like 7 --weight 2.1kg." in done.stderr
    )
    assert "7, 2.1 kg" in _run("add", folder, "silverbeet", "7", "--weight", "2.1kg")


def test_the_kitchen_book_is_written_in_it(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    shown = _run("gave", folder, "chard", "500 g", "--on", "2026-07-20")
    assert "silverbeet, 2026-07-20: given 500 g" in shown
    assert "silverbeet" in (folder / "kitchen.csv").read_text("utf-8")
    assert "silverbeet" in _run("on-hand", folder)


def test_a_garden_is_begun_in_it(tmp_path: Path) -> None:
    named = ["--crops", "Silverbeet, courgettes, Swiss chard, cucumbers"]
    _run("start", tmp_path / "plot", "--no-ask", "--latitude", "-41.2", *named)
    text = (tmp_path / "plot" / "garden.toml").read_text("utf-8")
    heads = re.findall(r'^\[crops\."(.*)"\]$', text, re.M)
    assert heads == ["silverbeet", "courgettes", "cucumber"]
    assert [*read_household(tmp_path / "plot", Findings()).crops] == [
        "chard",
        "zucchini",
        "cucumber",
    ]


def test_a_first_count_of_what_was_always_weighed_is_asked_about(make: Maker) -> None:
    weighed = "".join(f"2026-07-{d:02d},silverbeet,0.{d}\n" for d in range(1, 6))
    folder = make(picks="date,crop,weight_kg,count\n" + weighed.replace("\n", ",\n"))
    shown = _run("add", folder, "silverbeet", "600", "--on", "2026-07-10")
    assert "silverbeet was always weighed so far; 600 without a unit was read as 600" in shown
    assert "always weighed" not in _run("add", folder, "silverbeet", "600g", "--on", "2026-07-11")
    assert "always weighed" not in _run("add", folder, "silverbeet", "9", "--on", "2026-07-12")


def test_a_variety_typed_as_an_amount_is_answered_with_its_option(make: Maker) -> None:
    folder = _garden(make, "silverbeet")
    done = CliRunner().invoke(main, ["add", str(folder), "silverbeet", "Fordwick", "4"])
    assert done.exit_code == 1 and "behind --variety" in done.stderr


def test_a_count_and_its_weight_are_answered_once(make: Maker) -> None:
    shown = _run("add", _garden(make, "silverbeet"), "silverbeet", "7 heads 2.1 kg")
    assert "7, 2.1 kg" in shown and "was read as" not in shown
