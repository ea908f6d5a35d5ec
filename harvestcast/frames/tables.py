"""The nomenclature: columns, units and ranges of every table.

Masses are kilograms as picked, lengths metres, temperatures degrees Celsius, volumes litres,
times days or hours (said in the name). Dates are timezone-naive midnights. Unknown is NaN
(numbers), NaT (dates) or ``<NA>`` (text), never zero and never an empty string.
"""

from harvestcast.frames.checker import (
    Column,
    FrameSpec,
    boolean,
    date,
    facts,
    integer,
    number,
    quantile_columns,
    summary,
    text,
)

_CROP = text("crop", "crop, canonical lower-case name")
_VARIETY = text("variety", "variety as typed; 'unnamed' where none was given")
_BED = text("bed", "bed as typed", required=False)
_NOTE = text("note", "note as typed", required=False)
_FILE = text("file", "file the row came from", required=False)
_LINE = number("line", "line in that file, from 1", low=None, required=False)

PICKS = FrameSpec(
    "picks",
    (
        date("date", "day of the pick"),
        _CROP,
        _VARIETY,
        _BED,
        number("count", "fruits picked; 0 means looked and found none", required=False),
        number("mass_kg", "mass picked", "kg", required=False),
        text("grade", "grade", one_of=("good", "oversize", "damaged")),
        number("hours", "hours spent picking", "h", required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

PLANTINGS = FrameSpec(
    "plantings",
    (
        _CROP,
        _VARIETY,
        _BED,
        date("date", "day of sowing or setting out; unknown for old perennials", required=False),
        text("how", "how it was planted", one_of=("sown", "set_out")),
        number("plants", "plants standing (or seeds sown, as typed)", required=False),
        number("row_m", "row length", "m", required=False),
        number("area_m2", "bed area taken", "m2", required=False),
        date("removed", "day it was pulled out", required=False),
        text("cover", "what stands over it; empty: open ground", required=False, one_of=("glass",)),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

WEATHER = FrameSpec(
    "weather",
    (
        date("date", "day"),
        number("tmin_c", "daily minimum", "degC", low=-60, high=50),
        number("tmax_c", "daily maximum", "degC", low=-60, high=60),
        number("rain_mm", "rain", "mm", required=False),
        text("kind", "how the values came about", one_of=("observed", "filled", "forecast")),
        date("issued", "day a weather forecast was issued", required=False),
    ),
)
"""Observed and filled days: one row a day. Forecast days: one row a day and day of issue."""

PANTRY = FrameSpec(
    "pantry",
    (
        date("date", "day"),
        text("product", "product as typed, lower case, single spaces"),
        text("jar", "jar or bag size", required=False),
        number("change", "jars put up (+) or gone (-)", "jars", low=None),
        text("what", "a key of KITCHEN where the kitchen book says it", required=False),
        number("produce_kg", "produce used", "kg", required=False),
        number("hours", "hands-on hours taken", "h", required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

KITCHEN = FrameSpec(
    "kitchen",
    (
        date("date", "day"),
        text(
            "what",
            "what was done",
            one_of=("counted", "bought", "put_up", "used", "given", "fed", "thrown_out"),
        ),
        text("item", "jars, an ingredient, room or produce, as typed, lower case"),
        number("count", "pieces", required=False),
        number("mass_kg", "weight", "kg", required=False),
        number("volume_l", "volume", "l", required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)
"""The kitchen book without its preserves, which are rows of PANTRY; lines of one day in order."""

NOTICES = FrameSpec(
    "notices",
    (
        text("file", "file"),
        integer("line", "line, from 1", low=None, required=False),
        text("column", "heading or key", required=False),
        text("value", "what was typed", required=False),
        text("odd", "what was odd"),
        text("done", "what was done about it"),
        text("code", "kind of notice, a key of the room's table of messages", required=False),
        facts("facts", "what both sentences were made from, by name"),
    ),
)

DRAWS = FrameSpec(
    "draws",
    (
        integer("draw", "number of the possible future, from 0"),
        date("date", "day"),
        _CROP,
        _VARIETY,
        number("mass_kg", "mass picked that day", "kg"),
        number("count", "fruits picked that day", required=False),
    ),
    key=("draw", "date", "crop", "variety"),
)

_WEEK = (
    integer("week", "weeks ahead, from 1", low=1),
    date("start", "first day of the week"),
    date("end", "last day of the week"),
)
WEEKLY_BY_CROP = FrameSpec(
    "weekly", (_CROP, *_WEEK, *summary("kg"), *summary("count")), key=("crop", "week")
)
WEEKLY_BY_VARIETY = FrameSpec(
    "weekly",
    (_CROP, _VARIETY, *_WEEK, *summary("kg"), *summary("count")),
    key=("crop", "variety", "week"),
)

CHECKS = FrameSpec(
    "checks",
    (
        _CROP,
        _VARIETY,
        text("code", "what was checked, as a code"),
        text("check", "what was checked"),
        number("statistic", "value found", low=None, required=False),
        text("operator", "how it must compare", one_of=("<", "<=", ">", ">=", "==")),
        number("threshold", "value it is compared with", low=None, required=False),
        boolean("passed", "whether the check passed"),
        text("comment", "what it means and what was done", required=False),
    ),
)

FITTED = FrameSpec(
    "fitted",
    (
        date("date", "day"),
        _CROP,
        _VARIETY,
        number("degree_days", "heat since planting", "degC d", required=False),
        number("ready_q10_kg", "becoming ready that day, 10 % quantile", "kg", required=False),
        number("ready_q50_kg", "becoming ready that day, median", "kg", required=False),
        number("ready_q90_kg", "becoming ready that day, 90 % quantile", "kg", required=False),
        number("curve_q50_kg", "the smooth curve alone, median", "kg", required=False),
    ),
    key=("date", "crop", "variety"),
)
"""The fitted season of every variety, from planting to the end of the forecast; empty where a fit
is not believed."""

STANDING = FrameSpec(
    "standing",
    (
        _CROP,
        number("q10_kg", "ready a week ahead if none is taken before, 10 % quantile", "kg"),
        number("q50_kg", "the same, median", "kg"),
        number("q90_kg", "the same, 90 % quantile", "kg"),
        date("ready_from", "first day by which half of it is likely ready", required=False),
        number("p_taken", "chance that any is taken in the coming week", high=1),
    ),
    key=("crop",),
)
"""What stands of crops that are brought in at once, and keep where they stand."""

LEFT_OUT = FrameSpec(
    "left_out",
    (
        _CROP,
        _VARIETY,
        _BED,
        date("date", "planting date", required=False),
        text("code", "why there is no forecast, as a code"),
        text("reason", "why there is no forecast"),
    ),
)

SCORES = FrameSpec(
    "scores",
    (
        date("origin", "day the forecast was made on (its last day of data)"),
        _CROP,
        _VARIETY,
        integer("week", "weeks ahead, from 1", low=1),
        number("observed", "mass picked that week", "kg"),
        number("mean", "forecast mean", "kg"),
        *(Column(n, "number", "forecast quantile", "kg", low=0) for n in quantile_columns()),
        number("crps", "continuous ranked probability score, fair estimator", "kg", low=None),
    ),
    key=("origin", "crop", "variety", "week"),
)

_PROCESS = (
    number("process_min", "process time", "min", required=False),
    number("pressure_psi", "gauge pressure", "psi", required=False),
    number("headspace_in", "headspace", "in", required=False),
    text("pack", "pack that the time holds for", required=False, one_of=("raw", "hot")),
    text("gauge", "gauge of the canner", required=False, one_of=("dial", "weighted")),
    text("acid", "how it gets its acid: ACIDS of the handbook", required=False),
    number("lemon_juice_tbsp", "bottled lemon juice in each jar, or else", "tbsp", required=False),
    number("citric_acid_tsp", "citric acid in each jar", "tsp", required=False),
    number("band_low_ft", "lowest elevation that the time holds for", "ft", required=False),
    number("band_high_ft", "highest; unknown where it is open", "ft", required=False),
)
"""What a canning time holds for; empty for what is not canned."""

BATCHES = FrameSpec(
    "batches",
    (
        date("day", "day of the work"),
        _CROP,
        text("product", "product key of the catalogue"),
        text("label", "product in household words"),
        text("method", "boiling_water, pressure, freezing, drying, fermenting, ..."),
        number("batches", "batches; whole where decided"),
        number("mass_kg", "produce used, mean over draws", "kg"),
        text("jar", "jar or bag size", required=False),
        number("jars", "jars or bags filled, mean over draws"),
        number("jars_low", "not fewer than this in nine draws of ten", required=False),
        number("jars_high", "not more than this in nine draws of ten", required=False),
        number("hands_on_h", "hands-on hours", "h"),
        text("equipment", "what stands occupied"),
        number("equipment_h", "hours it stands occupied", "h"),
        *_PROCESS,
        date("best_by", "use for best quality by", required=False),
        boolean("decided", "decided now (True) or an outlook for later days (False)"),
        number("if_kg", "begun on a decided day only if this much comes in", "kg", required=False),
        date("since", "evening on which it was first decided", required=False),
        text("source", "where the process stands", required=False),
        text("reason", "why this and not another way, in household words", required=False),
        text("code", "kind of reason, a key of the room's table of messages", required=False),
        facts("facts", "what the reason was made from, by name"),
    ),
)

BALANCE = FrameSpec(
    "balance",
    (
        date("day", "day"),
        _CROP,
        *(
            Column(name, "number", meaning, "kg", low=-1e-6)
            for name, meaning in (
                ("carried_in", "lying there in the morning"),
                ("picked", "picked that day"),
                ("eaten", "eaten fresh"),
                ("put_up", "put up"),
                ("given", "given away or fed to animals"),
                ("spoiled", "spoiled or over capacity"),
                ("carried_out", "lying there in the evening"),
            )
        ),
    ),
    key=("day", "crop"),
)
"""Means over draws, kg. What comes in (carried_in, picked) equals what goes out, row by row."""

SURPLUS = FrameSpec(
    "surplus",
    (
        _CROP,
        *_WEEK,
        *summary("kg"),
        number("p_beats_capacity", "share of draws whose week beats capacity", high=1),
    ),
    key=("crop", "week"),
)

OPTIONS = FrameSpec(
    "options",
    (
        text("option", "key: product/jar/method"),
        _CROP,
        text("product", "product key of the catalogue"),
        text("label", "product in household words"),
        text("method", "boiling_water, pressure, freezing, drying, fermenting, ..."),
        text("jar", "jar or bag size", required=False),
        number("kg_per_batch", "produce a full batch takes, as picked", "kg"),
        number("jars_per_batch", "jars or bags a full batch fills"),
        number("pint_jars_per_jar", "pints of food in one jar"),
        number("hands_on_h", "hands-on hours a batch", "h"),
        text("equipment", "kind of equipment it occupies; 'none' where nothing"),
        number("equipment_h", "hours it occupies one such piece", "h"),
        number("lids_per_batch", "new lids a batch takes"),
        number("freezer_l_per_batch", "freezer space a batch takes", "l"),
        number("max_age_days", "oldest pick it may use", "d"),
        boolean("takes_oversize", "whether oversize fruit may be used"),
        number("best_by_days", "days of best quality once put up", "d"),
        *_PROCESS,
        text("source", "where process and amounts stand"),
    ),
    key=("option",),
)
"""Everything this household could put up this week, one row a way of doing it."""

FRESH = FrameSpec(
    "fresh",
    (
        _CROP,
        number("eat_kg_day", "fresh use the household enjoys", "kg"),
        number("eat_at_most_kg_day", "ceiling of fresh use", "kg"),
        number("give_kg_day", "given away at most", "kg"),
        number("animals_kg_day", "fed to animals at most", "kg"),
        number("keep_days", "days it keeps fresh in its place", "d"),
        text("place", "refrigerator, counter or cool_store"),
        number("litres_per_kg", "space it takes there", "l"),
        number("ripen_days", "days before it can be used", "d"),
        text("source", "where the figures stand"),
    ),
    key=("crop",),
)

WANTED = FrameSpec(
    "wanted",
    (
        text("product", "product key of the catalogue"),
        text("label", "product in household words"),
        number("target_jars", "jars a year the household wants"),
        number("stock_jars", "jars on the shelf at as_of"),
        number("wanted_jars", "jars still to put up"),
        number("eaten_jars_week", "pace of eating", required=False),
        date("run_out", "day the shelf is empty at that pace", required=False),
    ),
    key=("product",),
)

SHOPPING = FrameSpec(
    "shopping",
    (
        text("item", "what to buy"),
        number("needed", "needed for the planned batches"),
        number("in_stock", "in stock"),
        number("to_buy", "to buy"),
        text("unit", "unit of the three amounts"),
        text("shown", "amount to buy in the household's units"),
        text("use", "what it is for", required=False),
    ),
    key=("item",),
)

BOTTLENECKS = FrameSpec(
    "bottlenecks",
    (
        text("resource", "resource in household words"),
        text("one_more", "one usable unit more"),
        number("saved_kg", "produce it would save from spoiling", "kg", low=None),
        number("more_jars", "jars it would add", low=None),
        number("value", "what it would add to the plan's value", "points", low=None),
        text("comment", "how sure this is", required=False),
        text("code", "kind of comment, a key of the room's table of messages", required=False),
        facts("facts", "what the comment was made from, by name"),
    ),
    key=("resource",),
)
