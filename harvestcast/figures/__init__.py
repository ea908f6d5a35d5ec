"""One function per figure: a frame in, axes out, and beside each the same in words."""

from harvestcast.figures.backtest import said_and_came, said_and_came_alt
from harvestcast.figures.beds import (
    beds_year,
    beds_year_alt,
    glut_weeks,
    glut_weeks_alt,
    reliability,
    reliability_alt,
    sowing_calendar,
    sowing_calendar_alt,
)
from harvestcast.figures.coming import (
    season_curve,
    season_curve_alt,
    surplus_intervals,
    surplus_intervals_alt,
    weekly_bands,
    weekly_bands_alt,
)
from harvestcast.figures.kitchen import (
    kitchen_days,
    kitchen_days_alt,
    pantry_shelf,
    pantry_shelf_alt,
    where_it_goes,
    where_it_goes_alt,
)
from harvestcast.figures.look import in_session, to_png, to_svg
from harvestcast.figures.season import (
    cumulative_heat,
    cumulative_heat_alt,
    pick_calendar,
    pick_calendar_alt,
    ranking,
    ranking_alt,
    weeks_over,
    weeks_over_alt,
)

__all__ = [
    "beds_year",
    "beds_year_alt",
    "cumulative_heat",
    "cumulative_heat_alt",
    "glut_weeks",
    "glut_weeks_alt",
    "in_session",
    "kitchen_days",
    "kitchen_days_alt",
    "pantry_shelf",
    "pantry_shelf_alt",
    "pick_calendar",
    "pick_calendar_alt",
    "ranking",
    "ranking_alt",
    "reliability",
    "reliability_alt",
    "said_and_came",
    "said_and_came_alt",
    "season_curve",
    "season_curve_alt",
    "sowing_calendar",
    "sowing_calendar_alt",
    "surplus_intervals",
    "surplus_intervals_alt",
    "to_png",
    "to_svg",
    "weekly_bands",
    "weekly_bands_alt",
    "weeks_over",
    "weeks_over_alt",
    "where_it_goes",
    "where_it_goes_alt",
]
