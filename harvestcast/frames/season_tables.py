"""Tables of the season room: varieties compared, and the beds of next season.

Intervals are 90 % (``_q05`` to ``_q95``) unless the column says otherwise. Two kinds are told
apart everywhere: ``q05``/``q95`` bound the *expected* value of the variety (the mean over many
such plantings in this garden under the same conditions); ``again_q05``/``again_q95`` bound what
*one more* planting of the same number of plants would show.
"""

from harvestcast.frames.checker import (
    Column,
    FrameSpec,
    boolean,
    date,
    integer,
    number,
    text,
)

_CROP = text("crop", "crop, canonical lower-case name")
_VARIETY = text("variety", "variety as typed; 'unnamed' where none was given")

MEASURES: dict[str, tuple[str, str, str]] = {
    # name: (unit, which is better, meaning)
    "kg_per_plant": ("kg", "more", "harvest of a plant (of a seed, where seeds were counted)"),
    "kg_per_row_m": ("kg/m", "more", "harvest of a metre of row"),
    "kg_per_m2": ("kg/m2", "more", "harvest of a square metre of bed"),
    "count_per_plant": ("fruits", "more", "fruits of a plant"),
    "first_pick_days": ("d", "less", "days from planting to the first pick"),
    "first_pick_dd": ("degC d", "less", "degree-days from planting to the first pick"),
    "dd_10": ("degC d", "", "degree-days from planting until 10 % of the harvest was in"),
    "dd_50": ("degC d", "less", "degree-days from planting until half of the harvest was in"),
    "dd_90": ("degC d", "", "degree-days from planting until 90 % of the harvest was in"),
    "peak_week_share": ("share", "less", "share of the harvest in its heaviest seven days"),
    "canner_kg_per_plant": ("kg", "more", "heaviest fourteen days of a plant: all at once"),
    "steady_weeks": ("weeks", "more", "longest run of weeks of at least half the median week"),
    "oversize_share": ("share", "less", "share of the harvest that grew too big"),
    "damaged_share": ("share", "less", "share of the harvest that was damaged"),
    "fruit_kg": ("kg", "", "weight of a fruit"),
    "pick_hours_per_kg": ("h/kg", "less", "picking time of a kilogram"),
}
"""Every measure a variety is compared on: its unit, which way is better, its meaning."""

DATED: tuple[str, ...] = ("first_pick_date", "date_10", "date_50", "date_90", "peak_week_start")
"""Measures that are dates."""

_HOW_SURE = (
    number("q05", "expected value of the variety, lower end of 90 %", low=None, required=False),
    number("q95", "expected value of the variety, upper end of 90 %", low=None, required=False),
    number("again_q05", "one more such planting, lower end of 90 %", low=None, required=False),
    number("again_q95", "one more such planting, upper end of 90 %", low=None, required=False),
)

VARIETY_MEASURES = FrameSpec(
    "variety_measures",
    (
        _CROP,
        _VARIETY,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        text("unit", "unit of the figures"),
        number("plants", "plants that stood", required=False),
        integer("plantings", "plantings told apart in the log (beds, seasons)", low=0),
        number("seen", "as logged", required=False),
        number("estimate", "expected value of the variety, median", low=None, required=False),
        *_HOW_SURE,
    ),
    key=("crop", "variety", "measure"),
)
"""One row a variety and measure (long form)."""

VARIETY_TABLE = FrameSpec(
    "variety_table",
    (
        _CROP,
        _VARIETY,
        number("plants", "plants that stood", required=False),
        integer("plantings", "plantings told apart in the log (beds, seasons)", low=0),
        number("mass_kg", "picked in the season, all grades", "kg", required=False),
        number("count", "fruits picked in the season", required=False),
        *(
            Column(f"{name}{end}", "number", meaning, unit, required=False)
            for name, (unit, _, meaning) in MEASURES.items()
            for end in ("", "_q05", "_q95")
        ),
        *(
            date(f"{name}{end}", name, required=False)
            for name in DATED
            for end in ("", "_q05", "_q95")
        ),
        date("counted_from", "day from which days and heat to the first pick count"),
        text("how_sure", "what the number of plants allows to say"),
    ),
    key=("crop", "variety"),
)
"""One row a variety (wide form): estimate and 90 % interval of its expected value."""

BEST = FrameSpec(
    "best",
    (
        _CROP,
        _VARIETY,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        text("better", "which way is better", one_of=("more", "less")),
        number(
            "probability_best", "probability of being the best of its crop", high=1, required=False
        ),
    ),
    key=("crop", "variety", "measure"),
)

TOLD_APART = FrameSpec(
    "told_apart",
    (
        _CROP,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        text("variety", "variety"),
        text("other", "variety it is compared with"),
        number("probability_better", "probability that the first is the better one", high=1),
        boolean("told_apart", "whether the log tells them apart (beyond 10 : 1)"),
        text("code", "told.apart, told.alike or told.no_verdict"),
        text("says", "the same in a sentence"),
    ),
    key=("crop", "measure", "variety", "other"),
)

BY_BED = FrameSpec(
    "by_bed",
    (
        _CROP,
        _VARIETY,
        text("bed", "bed as typed", required=False),
        date("planted", "first planting there", required=False),
        number("plants", "plants that stood", required=False),
        number("area_m2", "bed area taken", "m2", required=False),
        date("first_pick", "first day with a pick", required=False),
        date("last_pick", "last day with a pick", required=False),
        number("mass_kg", "picked in the season", "kg", required=False),
        number("count", "fruits picked in the season", required=False),
        number("kg_per_plant", "harvest of a plant", "kg", required=False),
        number("kg_per_m2", "harvest of a square metre", "kg/m2", required=False),
        text("notes", "what was noted of it, each once", required=False),
    ),
)

OVER_SEASONS = FrameSpec(
    "over_seasons",
    (
        _CROP,
        _VARIETY,
        integer("season", "season, by the year it begins in"),
        text("label", "the same as people say it"),
        number("plants", "plants that stood", required=False),
        date("first_pick", "first day with a pick", required=False),
        date("last_pick", "last day with a pick", required=False),
        number("kg_per_plant", "expected harvest of a plant in that season", "kg", required=False),
        number("average_kg_per_plant", "the same in average weather", "kg", required=False),
        number("average_q05", "its lower end of 90 %", "kg", required=False),
        number("average_q95", "its upper end of 90 %", "kg", required=False),
        text("notes", "what was noted of it, each once", required=False),
    ),
    key=("crop", "variety", "season"),
)
"""Every variety in each season that is over."""

VERDICTS = FrameSpec(
    "verdicts",
    (
        _CROP,
        _VARIETY,
        text("verdict", "what becomes of it", one_of=("keep", "drop", "try_again")),
        number("kg_per_m2", "harvest of a square metre over all seasons, average weather", "kg/m2"),
        number("q05", "its lower end of 90 %", "kg/m2"),
        number("q95", "its upper end of 90 %", "kg/m2"),
        text("against", "best other variety of the crop", required=False),
        number("against_kg_per_m2", "harvest of a square metre of it", "kg/m2", required=False),
        number("chance_better", "chance that it brings more than that", high=1, required=False),
        integer("days_sooner", "days it is picked before that, where it stays for it", low=0),
        integer("seasons", "whole seasons it was picked in", low=1),
        number("plants", "plants of them together", required=False),
        text("notes", "what was noted of it in all of them, each once", required=False),
        text("code", "verdict.keep, .sooner, .drop, .try_again or .alone"),
        text("says", "the same in a sentence"),
    ),
    key=("crop", "variety"),
)
"""Varieties of the whole seasons of a log: which stay, go or get another try, by their yield."""

CALENDAR = FrameSpec(
    "calendar",
    (
        _CROP,
        _VARIETY,
        date("start", "first day of the week (Monday)"),
        number("mass_kg", "picked that week", "kg"),
        number("count", "fruits picked that week", required=False),
        integer("days_picked", "days with a pick", low=0),
        number("share", "share of the variety's season", high=1, required=False),
    ),
    key=("crop", "variety", "start"),
)

CUMULATIVE = FrameSpec(
    "cumulative",
    (
        _CROP,
        _VARIETY,
        date("date", "day"),
        number("degree_days", "degree-days since planting", "degC d", required=False),
        number("plants", "plants that stood", required=False),
        number("picked_kg", "picked so far, as logged", "kg"),
        number("q05_kg", "expected by then, lower end of 90 %", "kg", required=False),
        number("q50_kg", "expected by then, median", "kg", required=False),
        number("q95_kg", "expected by then, upper end of 90 %", "kg", required=False),
    ),
    key=("crop", "variety", "date"),
)

LESSONS = FrameSpec(
    "lessons",
    (
        text(
            "lesson",
            "what it is about",
            one_of=("jars", "target", "hours", "spoiled", "over_capacity"),
        ),
        text("subject", "product or crop"),
        text("unit", "unit of the two figures"),
        number("expected", "promised, wanted or possible", required=False),
        number("happened", "what the log shows", required=False),
        date("day", "day on which it was counted, where it is a count of one day", required=False),
        text("says", "the same in a sentence"),
    ),
)

OVER_CAPACITY = FrameSpec(
    "over_capacity",
    (
        date("start", "first day of the week (Monday)"),
        number("picked_kg", "picked that week", "kg"),
        number("eaten_kg", "eaten fresh or given away at most", "kg", required=False),
        number("put_up_kg", "put up at most with the hours and equipment", "kg", required=False),
        number("over_kg", "beyond both", "kg", required=False),
    ),
    key=("start",),
)

BEDS = FrameSpec(
    "beds",
    (
        _CROP,
        _VARIETY,
        text("how", "how it is planted, or that it stands", one_of=("sown", "set_out", "stands")),
        text("cover", "glass under cover; missing in the open", one_of=("glass",), required=False),
        date(
            "date",
            "day of sowing or setting out; of what stands the day it was planted, where known",
            required=False,
        ),
        integer("plants", "plants (seeds, where the log counts seeds)", low=0),
        number("area_m2", "bed area taken", "m2"),
        number("row_m", "row length", "m", required=False),
        date("first_pick", "first pick, median", required=False),
        date("last_pick", "nine tenths of the harvest in, median", required=False),
        number("mean_kg", "harvest, mean over futures", "kg"),
        text("basis_code", "what the yield rests on, for programs"),
        text("basis", "what the yield rests on"),
        text("reason_code", "why the row is there, for programs"),
        text("reason", "why the row is there"),
    ),
    key=("crop", "variety", "how", "cover", "date"),
)

STAYING = FrameSpec(
    "staying",
    (
        _CROP,
        _VARIETY,
        text("verdict", "what becomes of it", one_of=("keep", "drop", "try_again")),
        number("plants", "plants of the plan"),
        number("this_year", "plants of this year's beds"),
        number("kg_per_m2", "harvest of a square metre, mean over futures", "kg/m2"),
        text("against", "best other variety of the crop in the plan", required=False),
        number("against_kg_per_m2", "harvest of a square metre of it", "kg/m2", required=False),
        number("chance_better", "share of futures in which it brings more", high=1, required=False),
        integer("seasons_logged", "whole seasons it was picked in", low=0),
        number("plants_logged", "plants of them together", required=False),
        text("code", "staying.keep, .drop, .try_again, .no_use or .no_bed"),
        text("says", "the same in a sentence"),
    ),
    key=("crop", "variety"),
)
"""Varieties that could be planted: which stay, go or get another try, and why."""

SEEDS = FrameSpec(
    "seeds",
    (
        _CROP,
        _VARIETY,
        integer("sowings", "sowings or settings out", low=1),
        integer("plants", "plants of all of them", low=0),
        number("row_m", "row length", "m", required=False),
        number("seeds", "seeds to order; unknown of what is no seed", required=False),
        number("grams", "their weight", "g", required=False),
        number("germination", "least share that comes up", high=1, required=False),
        number("keeps_years", "years that seed keeps", "a", required=False),
        date("indoors_from", "first day to sow indoors, of the first of them", required=False),
        date("indoors_to", "last day to sow indoors", required=False),
        date("in_bed", "day of the first sowing or setting out"),
    ),
    key=("crop", "variety"),
)
"""What to order for a plan."""

PLACES = FrameSpec(
    "places",
    (
        text("bed", "bed as the plantings name it; none has room where missing", required=False),
        _CROP,
        _VARIETY,
        date("date", "day of sowing or setting out", required=False),
        date("until", "nine tenths of the harvest in, median", required=False),
        integer("plants", "plants there", low=0),
        number("area_m2", "bed area taken there", "m2"),
        text("family", "plant family", required=False),
        text("last_season", "season in which its family last stood there", required=False),
        number("years_apart", "years after which it may come back", "a", required=False),
        text("code", "place.new, place.rested, place.too_soon, place.stands or place.no_room"),
        text("says", "the same in a sentence"),
    ),
)
"""Which bed takes which row of a plan."""

RELIABILITY = FrameSpec(
    "reliability",
    (
        text("product", "product key, or 'fresh: crop' for the table"),
        text("label", "the same in household words"),
        text("kind", "pantry or fresh", one_of=("pantry", "fresh")),
        text("unit", "unit of the target"),
        number("target", "wanted"),
        number("probability_met", "share of fresh futures that meet it", high=1),
        number("q10", "reached in nine futures of ten"),
        number("mean", "reached on average"),
        number("this_year_probability", "the same with this year's beds", high=1, required=False),
        number("rule_probability", "the same with rule-of-thumb plants", high=1, required=False),
        text("limits", "codes of what keeps it from being met, divided by blanks", required=False),
        text("comment", "why it falls short, where it does", required=False),
    ),
    key=("product",),
)

GLUT = FrameSpec(
    "glut",
    (
        integer("week", "week of the year counted from the first", low=1),
        date("start", "first day of the week (Monday)"),
        number("plan_kg", "beyond what the household can use, mean over futures", "kg"),
        number("plan_q10_kg", "10 % quantile", "kg"),
        number("plan_q50_kg", "median", "kg"),
        number("plan_q90_kg", "90 % quantile", "kg"),
        number("this_year_kg", "the same with this year's beds, mean", "kg", required=False),
        number("rule_kg", "the same with rule-of-thumb plants, mean", "kg", required=False),
    ),
    key=("week",),
)

COMPARED = FrameSpec(
    "compared",
    (
        text(
            "layout", "which beds: plan, this_year or rule_of_thumb; .as_sure or .nearly the plan"
        ),
        number("scale", "plants multiplied by", required=False),
        number("plants", "plants"),
        number("area_m2", "most bed area taken at once", "m2"),
        number("mean_reliability", "mean over targets of the probability met", high=1),
        number("least_reliability", "least over targets", high=1),
        number("targets_met_q10", "share of targets met in nine futures of ten", high=1),
        number("glut_kg", "beyond what the household can use, mean of a season", "kg"),
        number("glut_q90_kg", "90 % quantile of the same", "kg"),
        number("jars", "jars put up, mean of a season"),
        number("hours", "hands-on hours, mean of a season", "h"),
    ),
    key=("layout",),
)
"""All layouts on the same fresh futures; ``scale`` not 1: brought to the plan's reliability."""

TRADE_OFF = FrameSpec(
    "trade_off",
    (
        number("probability", "probability asked for", high=1),
        number("mean_reliability", "mean over targets of the probability met", high=1),
        number("least_reliability", "least over targets", high=1),
        number("plants", "plants"),
        number("area_m2", "most bed area taken at once", "m2"),
        number("glut_kg", "beyond what the household can use, mean of a season", "kg"),
        text("short", "targets that miss it", required=False),
    ),
    key=("probability",),
)

SOWING_CALENDAR = FrameSpec(
    "sowing_calendar",
    (
        date("date", "day"),
        text(
            "task",
            "what to do",
            one_of=("sow indoors", "sow", "set out", "first pick", "last pick"),
        ),
        _CROP,
        _VARIETY,
        integer("plants", "plants", low=0),
        date("early", "early end of 80 %; the day itself for tasks", required=False),
        date("late", "late end of 80 %; the day itself for tasks", required=False),
        text("says", "the same in a sentence"),
    ),
)

_AHEAD = (
    number("mean_kg", "picked in the week, mean over futures", "kg"),
    number("q10_kg", "10 % quantile", "kg"),
    number("q25_kg", "25 % quantile", "kg"),
    number("q50_kg", "median", "kg"),
    number("q75_kg", "75 % quantile", "kg"),
    number("q90_kg", "90 % quantile", "kg"),
)

AHEAD_WEEKS = FrameSpec(
    "ahead_weeks",
    (
        _CROP,
        integer("week", "week counted from the day after the last day known", low=1),
        date("start", "first day"),
        date("end", "last day"),
        *_AHEAD,
        number("eaten_kg", "eaten fresh, mean over futures", "kg"),
        number("given_kg", "eaten beyond the appetite, given away or fed, mean", "kg"),
        number("put_up_kg", "put up, mean", "kg"),
        number("over_kg", "left over, mean", "kg"),
        number("over_q50_kg", "left over, median", "kg"),
        number("over_q90_kg", "left over, 90 % quantile", "kg"),
        number("p_over", "chance that anything to speak of is left over", high=1),
        number("p_table", "chance that at least half of the appetite can be eaten", high=1),
    ),
    key=("crop", "week"),
)

AHEAD_CROPS = FrameSpec(
    "ahead_crops",
    (
        _CROP,
        number("so_far_kg", "picked so far this season", "kg"),
        *_AHEAD,
        number("p_any", "chance that anything comes", high=1),
        date("first_q10", "first pick to come, early end of 80 %", required=False),
        date("first_q50", "median; none where half of the futures bring nothing", required=False),
        date("first_q90", "late end; none where a tenth of them bring nothing", required=False),
        date("peak", "first day of the week that brings most", required=False),
        date("last_q50", "day by which nine tenths of it are in, median", required=False),
        number("eaten_kg", "eaten fresh, mean over futures", "kg"),
        number("given_kg", "eaten beyond the appetite, given away or fed, mean", "kg"),
        number("put_up_kg", "put up, mean", "kg"),
        number("over_kg", "left over, mean", "kg"),
        number("over_q10_kg", "left over, 10 % quantile", "kg"),
        number("over_q90_kg", "left over, 90 % quantile", "kg"),
        number("stored_kg", "lies in store after the last week, mean", "kg"),
    ),
    key=("crop",),
)
"""What is to come of each crop; what it brings is of the whole time, not of a week."""

AHEAD_SHELVES = FrameSpec(
    "ahead_shelves",
    (
        text("product", "product key"),
        text("label", "the same in household words"),
        text("unit", "what its jars are counted in"),
        number("target_jars", "wanted a year", "jars"),
        number("stock_jars", "on the shelf now", "jars"),
        number("wanted_jars", "still wanted", "jars"),
        number("q10_jars", "put up by the end, 10 % quantile; unknown: in no way", required=False),
        number("q50_jars", "median", required=False),
        number("q90_jars", "90 % quantile", required=False),
        number("p_met", "chance that the target is met", high=1, required=False),
        date("met_q10", "end of the week in which it is met, early end of 80 %", required=False),
        date("met_q50", "median; none where half of the futures do not meet it", required=False),
        date("met_q90", "late end; none where a tenth do not meet it", required=False),
    ),
    key=("product",),
)

AHEAD_ROOM = FrameSpec(
    "ahead_room",
    (
        text("store", "freezer, cool_store, jars, lids or freezer_bags"),
        integer("week", "week counted from the day after the last day known", low=1),
        date("start", "first day"),
        date("end", "last day"),
        text("unit", "unit of the figures"),
        number("q10", "taken by the end of the week, 10 % quantile"),
        number("q50", "median"),
        number("q90", "90 % quantile"),
        number("there", "there is so much; unknown where garden.toml does not say", required=False),
    ),
    key=("store", "week"),
)

AHEAD_LIMITS = FrameSpec(
    "ahead_limits",
    (
        text("store", "freezer, cool_store, jars, lids or freezer_bags"),
        text("unit", "unit of the figures"),
        number("there", "there is so much; unknown where garden.toml does not say", required=False),
        number("q10", "taken in the fullest week, 10 % quantile"),
        number("q50", "median"),
        number("q90", "90 % quantile"),
        number("p_full", "chance that it is full or used up", high=1, required=False),
        date("full_q10", "first day of the week when it is, early end of 80 %", required=False),
        date("full_q50", "median; none where it is not in half of the futures", required=False),
        date("full_q90", "late end; none where it is not in a tenth of them", required=False),
    ),
    key=("store",),
)

AHEAD_HOURS = FrameSpec(
    "ahead_hours",
    (
        integer("week", "week counted from the day after the last day known", low=1),
        date("start", "first day"),
        date("end", "last day"),
        number("there", "hours for putting up", "h"),
        number("q50", "taken by what is put up, median", "h"),
        number("q90", "90 % quantile", "h"),
    ),
    key=("week",),
)
