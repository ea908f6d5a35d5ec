"""The front door: verbs, frames in, results that show and draw themselves, wrong arguments."""

import os
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import harvestcast as hc

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_logs"


@pytest.fixture(scope="module")
def garden():
    return hc.open_garden(SAMPLE, today="2026-07-26")


@pytest.fixture(scope="module")
def outlook(garden):
    return hc.forecast(garden, "2026-07-25", weeks=2, draws=60)


@pytest.fixture(scope="module")
def plan(garden, outlook):
    return hc.plan_week(outlook, garden, days=4, scenarios=4)


@pytest.fixture(scope="module")
def review(garden):
    return hc.compare_varieties(garden, year=2025, draws=100)


def test_the_door_names_its_version_and_its_errors() -> None:
    assert hc.__version__.count(".") == 2
    assert issubclass(hc.errors.InputError, hc.errors.HarvestcastError)
    assert (Path(hc.__file__).parent / "py.typed").is_file()
    for verb in hc.__all__:
        assert getattr(hc, verb) is not None
    with pytest.raises(AttributeError):
        hc.no_such_verb  # noqa: B018


def test_opening_the_door_loads_no_room() -> None:
    code = "import sys, harvestcast; print('pandas' in sys.modules, harvestcast.__doc__[:8])"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert said.stdout.startswith("False")


def test_results_are_said_in_a_few_lines(garden, outlook, plan, review) -> None:
    for result in (garden, outlook, plan, review):
        assert len(repr(result)) < 200
        assert repr(result).startswith(type(result).__name__)
        page = result._repr_html_()
        assert "<table" in page
        assert len(page) < 20_000


def test_what_is_typed_in_a_garden_is_escaped_in_a_notebook() -> None:
    picks = pd.DataFrame({"date": ["2026-07-01"], "crop": ["pea"], "count": [1]})
    garden = hc.garden_from_frames(picks, name="<script>")
    assert "<script>" not in garden._repr_html_()


def test_results_draw_themselves_on_axes_of_their_own_or_given(
    garden, outlook, plan, review
) -> None:
    from matplotlib.figure import Figure

    for result in (garden, outlook, plan, review):
        ax = result.plot()
        assert ax.get_xlabel() or ax.get_ylabel()
        mine = Figure().add_subplot()
        assert result.plot(ax=mine) is mine
    assert "lb" in outlook.plot("Cucumbers", units="us").get_ylabel()
    assert garden.plot("courgettes").figure is not None


def test_a_crop_that_is_not_there_is_said(garden, outlook, review) -> None:
    for result in (garden, outlook, review):
        with pytest.raises(ValueError, match="rhubarb"):
            result.plot("rhubarb")


def test_frames_of_a_result_are_copies(garden, plan) -> None:
    for result, name, column in ((garden, "picks", "mass_kg"), (plan, "batches", "batches")):
        mine = getattr(result, name)
        mine[column] = -1
        assert not (getattr(result, name)[column] < 0).any()


def test_a_back_test_is_a_frame_that_draws_itself() -> None:
    days = pd.date_range("2026-07-01", periods=40)
    picks = pd.DataFrame({"date": days, "crop": "okra", "mass_kg": 0.2})
    scores = hc.backtest(hc.garden_from_frames(picks), draws=40, progress=False)
    assert isinstance(scores, pd.DataFrame)
    ax = scores.plot("okra")
    assert ax.get_xlabel()
    assert ax.get_ylabel() == "kg a week"
    assert type(scores[scores["week"] == 1]) is pd.DataFrame


@pytest.mark.parametrize(
    ("call", "needed"),
    [
        (lambda: hc.forecast("sample_logs"), "open_garden"),
        (lambda: hc.compare_varieties("sample_logs", year=2025), "open_garden"),
        (lambda: hc.plan_next_season("sample_logs", year=2027), "open_garden"),
        (lambda: hc.backtest("sample_logs"), "open_garden"),
        (lambda: hc.season_ahead("sample_logs"), "open_garden"),
    ],
)
def test_a_wrong_argument_is_answered_by_a_sentence(call, needed) -> None:
    with pytest.raises(TypeError, match=needed):
        call()


def test_arguments_in_the_wrong_order_are_told(garden, outlook) -> None:
    with pytest.raises(TypeError, match="type Outlook, not Garden"):
        hc.plan_week(garden, outlook)


def test_frames_as_people_write_them_are_read_like_files() -> None:
    picks = pd.DataFrame(
        {"Day": ["7/19/2026", "7/20/2026"], "What": ["Courgettes", "cucumbers"], "lb": [2.5, 11]}
    )
    beds = pd.DataFrame(
        {"crop": ["Zucchini"], "date": ["5/20/2026"], "how": ["sown"], "plants": [4]}
    )
    garden = hc.garden_from_frames(
        picks, plantings=beds, date_order="month_first", people=3, elevation_ft=1000
    )
    assert list(garden.picks["crop"]) == ["zucchini", "cucumber"]
    assert garden.picks["mass_kg"].tolist() == pytest.approx([1.134, 4.990], abs=1e-3)
    assert garden.plantings["plants"].tolist() == [4]
    assert garden.household.people == 3
    assert garden.household.elevation_m == pytest.approx(304.8)


def test_frames_and_settings_that_cannot_be_used_are_all_said() -> None:
    picks = pd.DataFrame({"date": ["2026-07-19", "someday"], "crop": ["pea", "pea"], "lb": [1, 2]})
    with pytest.raises(hc.errors.InputError) as told:
        hc.garden_from_frames(picks)
    assert [(p.file, p.line) for p in told.value.problems] == [("picks.csv", 3)]
    with pytest.raises(hc.errors.InputError, match="people"):
        hc.garden_from_frames(people="many")
    with pytest.raises(TypeError, match="picks"):
        hc.garden_from_frames("picks.csv")


def test_a_garden_taken_apart_and_put_together_is_the_same(garden) -> None:
    again = hc.garden_from_frames(
        garden.picks, garden.plantings, garden.weather, garden.pantry, household=garden.household
    )
    for name in ("picks", "plantings", "weather", "pantry"):
        pd.testing.assert_frame_equal(getattr(again, name), getattr(garden, name))


def test_single_files_read_as_in_their_folder(garden) -> None:
    picks = pd.concat([hc.read_picks(path) for path in sorted(SAMPLE.glob("picks*.csv"))])
    assert len(picks) >= len(garden.picks)
    weather = hc.read_weather(SAMPLE / "weather.csv")
    same = garden.weather[garden.weather["kind"] != "forecast"]
    assert weather["tmax_c"].mean() == pytest.approx(same["tmax_c"].mean(), abs=0.05)
