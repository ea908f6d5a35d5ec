"""Every figure draws, is labelled with units, can be told apart in grey, and has words."""

import inspect
import io
import itertools
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Text
from PIL import Image

from harvestcast import figures
from harvestcast.figures import kitchen, look
from harvestcast.report.html.page import figure

Drawn = dict[str, tuple[tuple[pd.DataFrame, ...], dict[str, Any], str]]
HEAT = np.linspace(0, 1500, 40)


def _cumulative(nasty: str) -> pd.DataFrame:
    parts = []
    for variety, level in ((f"Fen {nasty}", 5.0), ("Old Bellows", 4.0)):
        kg = level / (1 + np.exp(-(HEAT - 800) / 100))
        parts.append(
            pd.DataFrame(
                {
                    "variety": variety,
                    "degree_days": HEAT,
                    "picked_kg": 1.05 * kg,
                    "q05_kg": 0.7 * kg,
                    "q50_kg": kg,
                    "q95_kg": 1.4 * kg,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def _weeks() -> pd.DataFrame:
    starts = pd.date_range("2026-06-01", periods=16, freq="7D")
    kg = np.resize([0.0, 2.0, 7.5, 3.0], len(starts))
    return pd.DataFrame(
        {
            "variety": np.resize(["Fen Lantern", "Old Bellows"], len(starts)),
            "start": starts,
            "mass_kg": kg,
            "picked_kg": kg,
            "over_kg": np.maximum(0.0, kg - 4),
            "plan_kg": kg / 2,
            "plan_q10_kg": kg / 4,
            "plan_q90_kg": kg,
            "this_year_kg": 1.5 * kg,
        }
    )


def _beds() -> pd.DataFrame:
    day = pd.Timestamp
    return pd.DataFrame(
        {
            "crop": ["cucumber", "tomato"],
            "variety": ["Fen Lantern", "Old $x_1$"],
            "how": ["sown", "set_out"],
            "date": [day("2027-05-10"), day("2027-05-20")],
            "plants": [6, 8],
            "first_pick": [day("2027-07-05"), pd.NaT],
            "last_pick": [day("2027-08-25"), pd.NaT],
        }
    )


def _scores() -> pd.DataFrame:
    origins = pd.date_range("2026-07-05", periods=3, freq="7D")
    return pd.DataFrame(
        {
            "origin": origins,
            "observed": [4.0, 0.0, 9.0],
            "q10": [1.0, 2.0, 3.0],
            "q50": [3.0, 4.0, 6.0],
            "q90": [8.0, 9.0, 12.0],
        }
    )


def _room() -> pd.DataFrame:
    kg = _weeks()["mass_kg"].cumsum()
    return pd.DataFrame({"start": _weeks()["start"], "q10": kg / 2, "q50": kg, "q90": 2 * kg,
                         "there": 40.0, "unit": "l"})  # fmt: skip


@pytest.fixture(scope="module")
def cases(made_up: SimpleNamespace) -> Drawn:
    """Return, per figure, its frames, further arguments, and the unit its axes must show."""
    crop = made_up.weekly.loc[made_up.weekly["crop"] == "cucumber"]
    ranked = pd.DataFrame(
        {
            "variety": ["Fen Lantern", made_up.nasty],
            "low": [3.0, 1.0],
            "middle": [5.0, 2.0],
            "high": [7.0, 4.0],
            "p_best": [0.93, 0.07],
        }
    )
    targets = pd.DataFrame(
        {
            "label": ["Dill pickles", "fresh: tomato"],
            "probability_met": [0.93, 0.88],
            "this_year_probability": [0.4, np.nan],
        }
    )
    shelf = made_up.wanted.assign(planned_jars=[18.0, 9.0, 8.6])
    week_one = made_up.surplus.loc[made_up.surplus["week"] == 1]
    return {
        "weekly_bands": ((crop, made_up.picked_weeks), {}, "lb a week"),
        "season_curve": (
            (made_up.fitted, made_up.pick_rates),
            {"as_of": made_up.as_of},
            "lb a day",
        ),
        "surplus_intervals": ((week_one,), {}, "lb more"),
        "kitchen_days": ((made_up.batches, made_up.hours), {}, "hours"),
        "where_it_goes": ((made_up.balance,), {}, "lb,"),
        "pantry_shelf": ((shelf,), {}, "jars"),
        "cumulative_heat": ((_cumulative(made_up.nasty),), {}, "lb a plant"),
        "ranking": ((ranked,), {"label": "Yield a plant, lb"}, "lb"),
        "pick_calendar": ((_weeks(),), {}, "week from"),
        "said_and_came": ((_scores(),), {}, "lb a week"),
        "weeks_over": ((_weeks(),), {}, "lb a week"),
        "reliability": ((targets,), {"wish": 0.9}, "years in 100"),
        "glut_weeks": ((_weeks(),), {}, "lb a week"),
        "sowing_calendar": ((_beds(),), {}, "month"),
        "beds_year": ((_places(),), {}, "month"),
        "filling_up": ((_room(),), {}, "at week's end"),
    }


FIGURES = sorted(
    name
    for name in figures.__all__
    if f"{name}_alt" in figures.__all__
)  # fmt: skip


def _places() -> pd.DataFrame:
    days = pd.to_datetime(["2027-04-10", "2027-07-12", "2027-05-15", None])
    return pd.DataFrame(
        {
            "bed": ["long bed", "long bed", "south 1", None],
            "crop": ["pea", "kale", "tomato", "okra"],
            "date": days,
            "until": days + pd.Timedelta(days=70),
            "code": ["place.new", "place.too_soon", "place.rested", "place.no_room"],
        }
    )


def _draw(name: str, cases: Drawn, units: str = "us", **more: Any) -> Axes:
    frames, given, _ = cases[name]
    draw: Callable[..., Axes] = getattr(figures, name)
    return draw(*frames, units=units, title=f"About {name}", **given, **more)


def test_every_figure_stands_in_the_cases(cases: Drawn) -> None:
    assert sorted(cases) == FIGURES


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_draws_with_labels_and_units(name: str, cases: Drawn) -> None:
    ax = _draw(name, cases)
    labels = f"{ax.get_xlabel()} {ax.get_ylabel()}"
    assert cases[name][2] in labels
    assert ax.get_xlabel()
    drawn = ax.get_figure(root=True)
    assert drawn is not None
    assert [key.get_title().get_text() for key in drawn.legends] == [f"About {name}"]
    picture = Image.open(io.BytesIO(figures.to_png(ax))).convert("L")
    ink = np.asarray(picture, float)
    assert (ink < 128).mean() > 0.004, "next to nothing is drawn"


@pytest.mark.parametrize("name", FIGURES)
def test_metric_and_us_show_their_own_units(name: str, cases: Drawn) -> None:
    us, metric = (_draw(name, cases, units) for units in ("us", "metric"))
    labels = [f"{ax.get_xlabel()} {ax.get_ylabel()}" for ax in (us, metric)]
    if "lb" in labels[0] and name != "ranking":  # the ranking is given its label
        assert "kg" in labels[1]
        assert "lb" not in labels[1]


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_draws_into_axes_it_is_given(name: str, cases: Drawn) -> None:
    ax = look.new_axes(4.0, 3.0)
    assert _draw(name, cases, ax=ax) is ax
    assert len(ax.get_children()) > 10


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_leaves_its_frames_alone(name: str, cases: Drawn) -> None:
    frames = cases[name][0]
    before = [frame.copy(deep=True) for frame in frames]
    _draw(name, cases)
    for was, now in zip(before, frames, strict=True):
        pd.testing.assert_frame_equal(was, now)


@pytest.mark.parametrize("name", FIGURES)
def test_the_words_of_a_figure_hold_its_data(name: str, cases: Drawn) -> None:
    frames, given, _ = cases[name]
    alt = getattr(figures, f"{name}_alt")(
        *frames, units="us", title=f"About {name}", **given
    )  # fmt: skip
    assert alt.startswith(f"About {name}")
    assert any(c.isdigit() for c in alt)
    assert len(alt) > 40


# The page leaves the others out where there is nothing to draw.
EMPTY = [n for n in FIGURES if n not in ("season_curve", "weekly_bands", "cumulative_heat",
                                         "pick_calendar")]  # fmt: skip


@pytest.mark.parametrize("name", EMPTY)
def test_a_figure_without_rows_still_draws(name: str, cases: Drawn) -> None:
    frames, given, _ = cases[name]
    empty = [frame.iloc[:0] for frame in frames]
    ax = getattr(figures, name)(*empty, units="us", title="None", **given)
    assert figures.to_png(ax)[:4] == b"\x89PNG"
    assert getattr(figures, f"{name}_alt")(*empty, units="us", title="None", **given)


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_takes_frames_and_an_optional_axes(name: str) -> None:
    parameters = inspect.signature(getattr(figures, name)).parameters
    assert parameters["ax"].default is None
    assert {"units", "title"} <= set(parameters)


def test_the_same_figure_is_the_same_file(cases: Drawn) -> None:
    one, two = (figures.to_svg(_draw("weekly_bands", cases)) for _ in range(2))
    assert one == two
    assert ET.fromstring(one).tag.endswith("svg")


def test_figures_hold_no_script_and_name_no_other_file(
    cases: Drawn, made_up: SimpleNamespace
) -> None:
    for name in FIGURES:
        ax = _draw(name, cases)
        ax.set_title(made_up.nasty)
        svg = figures.to_svg(ax).decode("utf-8")
        assert "<script" not in svg
        root = ET.fromstring(svg)
        links = [
            value
            for node in root.iter()
            for key, value in node.attrib.items()
            if key.endswith("href")
        ]
        assert all(link.startswith("#") for link in links)


def test_a_name_with_a_formula_or_a_strange_letter_is_only_text(cases: Drawn) -> None:
    ax = _draw("ranking", cases)
    ax.set_title("$\\frac{1}{$ \N{HANGUL SYLLABLE GA} \U0001f345")
    assert figures.to_svg(ax)  # neither a formula's error nor a missing letter's warning
    assert "\U0001f345" in figure(ax, "tomato \U0001f345").html


def _lightness(color: str) -> float:
    """CIE 1976 lightness of an sRGB colour (IEC 61966-2-1; CIE 15:2004, eq. 8.3)."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    y = float(np.dot([0.2126, 0.7152, 0.0722], linear))
    return 116 * y ** (1 / 3) - 16 if y > 216 / 24389 else y * 24389 / 27


def test_fills_that_touch_differ_when_printed_in_grey() -> None:
    chains = [
        [look.SLATE, look.MID, look.PALE],
        [look.INK, look.MID, look.PALE],
        [look.LEAF, look.PAPER, look.RUST],
        [str(fill["facecolor"]) for _, _, fill in kitchen.SHARES],
    ]
    for chain in chains:
        for one, two in pairwise(chain):
            assert abs(_lightness(one) - _lightness(two)) >= 9, (one, two)


def test_methods_and_series_never_differ_by_colour_alone() -> None:
    fills = [(fill["hatch"], round(_lightness(fill["facecolor"]) / 9)) for fill in
             look.FILLS.values()]  # fmt: skip
    assert len(set(fills)) == len(fills)
    marks = [(str(one["linestyle"]), one["marker"]) for one in look.SERIES]
    assert len(set(marks)) == len(marks)


def test_a_figure_is_drawn_at_phone_width(cases: Drawn) -> None:
    """At 375 px less margins (343 px) the smallest letters stay 9 px high or more."""
    for name in FIGURES:
        ax = _draw(name, cases)
        drawn = ax.get_figure(root=True)
        assert drawn is not None
        scale = 343 / (96 * drawn.get_figwidth())
        sizes = [text.get_fontsize() for text in ax.findobj(Text) if text.get_text()]
        assert min(sizes) * 96 / 72 * scale >= 9


@pytest.mark.parametrize("units", ["us", "metric"])
def test_months_below_the_calendar_do_not_run_into_each_other(units: str) -> None:
    long = pd.concat([_beds()] * 4, ignore_index=True)
    long["variety"] = "Grandmother Ludmilla's Best"
    long["date"] = [pd.Timestamp(2027, month, 3) for month in (1, 3, 4, 5, 6, 7, 8, 9)]
    long.loc[0, ["first_pick", "last_pick"]] = [
        pd.Timestamp("2027-10-01"),
        pd.Timestamp("2027-12-20"),
    ]
    long.loc[1, ["how", "date"]] = ["stands", pd.Timestamp("2021-04-10")]
    for beds in (_beds(), long):
        ax = figures.sowing_calendar(beds, units=units, title="When")  # type: ignore[arg-type]
        figures.to_png(ax)
        drawn = ax.get_figure(root=True)
        assert drawn is not None
        labels = [label for label in ax.get_xticklabels() if label.get_text()]
        assert len(labels) >= 2
        boxes = [label.get_window_extent() for label in labels]
        assert all(a.x1 + 3 < b.x0 for a, b in itertools.pairwise(boxes))
        # What stands since years does not stretch the axis back to its planting.
        assert ax.get_xlim()[0] > np.datetime64("2026-12-01", "D").astype(float)


def test_a_long_name_leaves_the_bars_their_room() -> None:
    name = "fermented dill pickles (kept in the refrigerator), pints"
    shelf = pd.DataFrame({"label": [name, "kale"], "stock_jars": [3.0, 1.0],
                          "planned_jars": [2.0, 0.0], "target_jars": [9.0, 4.0]})  # fmt: skip
    ax = figures.pantry_shelf(shelf, units="us", title="Shelf")
    figures.to_png(ax)  # the layout is settled when it is drawn
    assert ax.get_position().width > 0.5
    assert name in figures.pantry_shelf_alt(shelf, units="us", title="Shelf")
