"""Rebuild the handbook tables of the package from the folder the figures were collected in.

    python tests/kitchen/rebuild_handbook.py FOLDER

Carries figures over, drops the addresses of the copies, and puts in their place the citation of
the publication and how the row stands:

published  read in a publication of a government or extension service (or an archive copy of it)
reprinted  read in a retyped copy of a named edition of a government guide, on some other page
repeated   read on a page that is neither, or that names no publication
memory     not read; remembered from the publication that is cited

Rows that the project added to a table itself, from memory or as planning estimates, stand in
``tests/kitchen/additions`` and follow the collected ones.

Only ``published`` counts as verified. Retyped copies are known to hold errors (one prints 45
minutes where two publications print 35), so they never give a process time. A row becomes
verified when somebody has read it in the publication: then its source below says ``published``.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

ADDITIONS = Path(__file__).with_name("additions")
DATA = Path(__file__).parents[2] / "harvestcast" / "kitchen" / "handbook" / "data"

GUIDE = "USDA, Complete Guide to Home Canning, Agriculture Information Bulletin 539"
MSU = (
    "Michigan State University Extension, Preserving Food Safely (1997), {}, "
    "from the USDA Complete Guide to Home Canning (AIB 539)"
)
# Number of the sheet in that collection -> what it is about, for people to find it by.
MSU_SHEETS = {
    "01600045": "table for beets",
    "01600049": "sheet on freezing greens",
    "01600060": "sheet on freezing cabbage",
    "01600073": "sheet on freezing cauliflower",
    "01600087": "sheet on freezing Brussels sprouts",
    "01600091": "sheet on freezing broccoli",
    "01600171": "sheet on freezing carrots",
    "01600283": "sheet on freezing sweet corn",
    "01600649": "sheet on freezing squash and pumpkin",
    "01600709": "sheet on freezing summer squash",
    "01600047": "table for pickled beets",
    "01600107": "table for pickled bell peppers",
    "01600131": "table for bread and butter pickles",
    "01600134": "sheet on quick sweet pickles",
    "01600138": "table for pickle relish",
    "01600181": "table for okra",
    "01600242": "table for shelled peas",
    "01600280": "table for whole kernel corn",
    "01600704": "table for peppers",
    "01600830": "sheet on crushed tomatoes",
    "01600855": "sheet on cucumbers for pickling",
    "01600856": "sheet on low-temperature pasteurizing",
    "01600864": "table for pickled hot peppers",
    "01600865": "table for quick fresh-pack dill pickles",
    "01600883": "table for snap beans",
}
SEP = "Univ. of Georgia Cooperative Extension, So Easy to Preserve"

# source as collected (or its beginning) -> citation of the publication, standing where it was read
SOURCES: dict[str, tuple[str, str]] = {
    "MSU Extension Home Horticulture facts": (
        "Michigan State University Extension, Home Horticulture, figures of asparagus, beets and "
        "blueberries",
        "published",
    ),
    "Univ. of Florida EDIS FCS8250": (
        "Univ. of Florida IFAS Extension, FCS8250 (table of USDA AIB 539)",
        "published",
    ),
    "Univ. of Florida EDIS FCS8186": (
        "Univ. of Florida IFAS Extension, FCS8186 (table of USDA AIB 539)",
        "published",
    ),
    "NCHFP Standard Tomato Sauce": (
        "National Center for Home Food Preservation, Standard Tomato Sauce "
        "(USDA AIB 539, rev. 2015)",
        "published",
    ),
    "NCHFP web pages": ("National Center for Home Food Preservation, web pages", "published"),
    "SDSU Extension, NCHFP Choice Salsa": (
        "South Dakota State University Extension, Choice Salsa (NCHFP figures)",
        "published",
    ),
    # The recipe is the extension service's own text, carried by a broadcaster.
    "Univ. of Maine Extension on WABI": (
        "Univ. of Maine Cooperative Extension, Strawberry Jam (2013; NCHFP figures)",
        "published",
    ),
    "University of Missouri Extension recipe page": (
        "Univ. of Missouri Extension, recipe pages with NCHFP figures",
        "published",
    ),
    "University of Missouri Extension page": (
        f"Univ. of Missouri Extension (figures of {SEP}, 5th ed.)",
        "published",
    ),
    "MU Extension quick answer": (
        "Univ. of Missouri Extension, quick answer on dried foods",
        "published",
    ),
    "USDA AIB 539 (2015)": (GUIDE + " (rev. 2015){}", "published"),
    "NCHFP, So Easy to Preserve": (
        f"National Center for Home Food Preservation (figures of {SEP}, 5th ed., 2006)",
        "published",
    ),
    "Utah State Univ. Extension": ("Utah State Univ. Extension, Vegetable Freezing", "published"),
    "Univ. of Illinois, VISTA": (
        "Univ. of Illinois, VISTA, Vegetables: how to prepare for freezer storage, table 1",
        "published",
    ),
    "Univ. of Illinois Extension, quoted": ("Univ. of Illinois Extension, quoted", "repeated"),
    "USDA AIB 539 (rev. 1994)": (f"{GUIDE} (rev. 1994)", "reprinted"),
    "USDA AIB 539 (later revision": (f"{GUIDE} (later revision, year not stated)", "reprinted"),
    "reprint of AIB 539 table": (GUIDE, "repeated"),
    "web page repeating the AIB 539 tables": (GUIDE, "repeated"),
    "blog page repeating the AIB 539": (GUIDE, "repeated"),
    "unattributed page repeating the AIB 539": (GUIDE, "repeated"),
    "forum page": ("an extension sheet, not named", "repeated"),
    "web page of canner steps": (GUIDE, "repeated"),
    "web page of altitude guidelines": ("altitude guidelines, publication not named", "repeated"),
    "Clemson HGIC": (
        "Clemson Univ. Extension, Home & Garden Information Center, "
        "Freezing fresh vegetables (2012)",
        "published",
    ),
    "Fraser Valley archive": ("Fraser Valley freezing bulletin (archive)", "repeated"),
    "Colorado State Extension 9.311": ("Colorado State Univ. Extension, 9.311", "published"),
    "Georgia Farm Bureau": ("Georgia Farm Bureau, bushel weights", "repeated"),
    "K-State Research and Extension, Drying Meat Safely": (
        "Kansas State Research and Extension, MF3173, Drying Meat Safely (2017)",
        "published",
    ),
    "K-State Research and Extension, Drying Meat": (
        "Kansas State Research and Extension, Drying Meat",
        "published",
    ),
    "NC Cooperative Extension": (
        "North Carolina Cooperative Extension, Buncombe County",
        "published",
    ),
    "NDSU Extension": (
        "North Dakota State Univ. Extension, Food Preservation: Drying Vegetables",
        "published",
    ),
    "New Mexico State Univ.": (
        "New Mexico State Univ. Extension, freezing guide (1994)",
        "published",
    ),
    "Oregon State Univ. Extension SP 50-535": (
        "Oregon State Univ. Extension, SP 50-535, Meat and Poultry Jerky (2009)",
        "published",
    ),
    "Penn State Extension": ("Penn State Extension, Let's Preserve: Peppers", "published"),
    "Purdue Extension": (
        "Purdue Extension, HHS-816-W, Let's Preserve: Quick Process Pickles",
        "published",
    ),
    "Perfect storage": ("produce storage sheet, publication not named", "repeated"),
    "So Easy to Preserve, 6th ed.": (f"{SEP}, 6th ed.", "published"),
    "UC Davis": ("Univ. of California, Davis, storage conditions, quoted", "repeated"),
    "USDA FSIS": ("USDA Food Safety and Inspection Service, jerky guidance", "published"),
    "USDA HG-10": ("USDA, Home and Garden Bulletin 10, Home Freezing", "published"),
    "USDA HG-217": ("USDA, Home and Garden Bulletin 217, Drying Foods at Home", "published"),
    "USDA Handbook 66 (1954)": (
        "USDA, Agriculture Handbook 66 (1954), storage table, quoted",
        "reprinted",
    ),
    "USDA Handbook 66 (2016)": ("USDA, Agriculture Handbook 66 (2016)", "published"),
    "USDA Handbook 8": (
        "USDA, food composition tables and Food Buying Guide (estimate)",
        "published",
    ),
    "Univ. of Georgia So Easy": (f"{SEP}, drying guide", "published"),
    "Univ. of Illinois Extension strawberry jam": (
        "Univ. of Illinois Extension, Strawberry Jam",
        "published",
    ),
    "Univ. of Illinois Extension, Filling": (
        "Univ. of Illinois Extension, filling the boiling-water canner",
        "published",
    ),
    "Univ. of Minnesota Extension": (
        f"Univ. of Minnesota Extension, pickled dilly beans (figures of {SEP}, 6th ed.)",
        "published",
    ),
    "Univ. of Wyoming Extension": (
        "Univ. of Wyoming Extension, Making Safe Jerky at Home",
        "published",
    ),
    "blog page": ("preserving weights, publication not named", "repeated"),
    "docslib copy": ("extension sheet Pickling Produce, service not named", "repeated"),
    "food-safety FAQ": ("food-safety answer on storing canned food", "repeated"),
    "freezing table page": ("freezing table, publication not named", "repeated"),
    "home freezing table page": ("home freezing table, publication not named", "repeated"),
    "page quoting Univ. of Wisconsin": ("Univ. of Wisconsin Extension on salt, quoted", "repeated"),
    "page quoting the USDA": ("USDA Meat and Poultry Hotline, quoted", "repeated"),
    "state extension home produce": ("state extension home produce storage charts", "published"),
    "unattributed drying chart": ("drying chart, publication not named", "repeated"),
    "unattributed home-preserving": ("preserving weights, publication not named", "repeated"),
}

# produce as collected -> crop as the library names it
CROPS: dict[str, str] = {
    "apple": "apple",
    "asparagus": "asparagus",
    "banana_pepper": "banana pepper",
    "beet": "beet",
    "beet_no_tops": "beet",
    "beets": "beet",
    "bell_pepper": "sweet pepper",
    "blackberry": "blackberry",
    "blueberries": "blueberry",
    "blueberry": "blueberry",
    "broccoli": "broccoli",
    "carrots": "carrot",
    "chili_pepper": "hot pepper",
    "cucumber": "cucumber",
    "eggplant": "eggplant",
    "hot_pepper": "hot pepper",
    "lettuce": "lettuce",
    "okra": "okra",
    "onion": "onion",
    "pea": "pea",
    "pea_in_pod": "pea",
    "peach": "peach",
    "pepper": "sweet pepper",
    "peas_green": "pea",
    "raspberry": "raspberry",
    "snap_bean": "snap bean",
    "snap_beans": "snap bean",
    "strawberries": "strawberry",
    "strawberry": "strawberry",
    "summer_squash": "summer squash",
    "sweet_corn": "sweet corn",
    "sweet_corn_in_ear": "sweet corn",
    "sweet_corn_in_husk": "sweet corn",
    "tomato": "tomato",
    "tomatoes": "tomato",
    "zucchini": "zucchini",
}

DROPPED = ("page", "cross_check_page", "read_or_memory", "note")


def standing(row: dict[str, str]) -> tuple[str, str]:
    """Return the citation and the standing of one collected row."""
    source = row["source"]
    if source.startswith("MSU Extension Preserving Food Safely"):
        citation = MSU.format(MSU_SHEETS[source.rsplit(" ", 1)[-1]])
        stands = "published"
    else:
        # The longest beginning wins, so that a shorter one never hides it.
        begin = max((s for s in SOURCES if source.startswith(s)), key=len)
        citation, stands = SOURCES[begin]
        # Guide and printed page, where the guide itself was read.
        citation = citation.replace("{}", source.rpartition("Home Canning")[2])
    if row.get("read_or_memory", "read") != "read":
        stands = "memory"
    return citation, stands


PACKS_OF_THE_GUIDE = {"pickled_yellow_pepper_rings": "hot"}
"""Pack, as the guide prints it (p. 6-24), of rows whose recipe page leaves out the style of pack:
its times are those of the guide, which hold for that pack."""


def converted(name: str, rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the rows of one table as the package keeps them."""
    done = []
    for row in rows:
        citation, stands = standing(row)
        kept = {k: v for k, v in row.items() if k not in (*DROPPED, "source")}
        if name == "canning_process":
            pack = PACKS_OF_THE_GUIDE.get(kept["product"], kept["pack"])
            kept = _process(kept | {"pack": pack})
        elif name in ("freezing", "drying"):
            kept = {"crop": CROPS.get(kept["product"], ""), **kept}
        elif name in ("storage", "weights"):
            kept = {"crop": CROPS.get(kept["produce"], ""), **kept}
        if name == "drying":
            low, high = _pints(row["note"])
            kept |= {"dried_pints_low": low, "dried_pints_high": high}
        done.append(
            kept
            | {
                "verified": "yes" if stands == "published" else "no",
                "standing": stands,
                "source": citation,
            }
        )
    return done


def _process(row: dict[str, str]) -> dict[str, str]:
    method, _, gauge = row.pop("method").partition("_")
    if method == "boiling":
        method, gauge = "boiling_water", ""
    head = {"product": row.pop("product"), "pack": row.pop("pack"), "jar": row.pop("jar_size")}
    return {**head, "method": method, "gauge": gauge, **row}


def _pints(note: str) -> tuple[str, str]:
    """Read "3-5 pints; not retrieved" as low and high."""
    words = note.split(" pint")[0] if " pint" in note else ""
    low, _, high = words.partition("-")
    return low, high or low


TABLES = ("freezing", "drying", "storage", "weights", "rules", "blanching")


def _read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def rebuild(folder: Path) -> dict[str, list[dict[str, str]]]:
    """Return every table of the package, converted from the collected folder."""
    tables = {}
    for name in TABLES:
        tables[name] = converted(name, _read(folder / f"{name}.csv"))
        more = ADDITIONS / f"{name}.csv"
        if more.exists():
            tables[name] += _read(more)
    tables["rules"] = _read_in_the_guide(tables["rules"], folder / "notes_2.md")
    for row in tables["rules"]:
        row.update(SAFER.get((row["rule"], row["subject"]), {}))
    for row in tables["blanching"]:
        if (row["vegetable"], row["form"]) == ("zucchini", "grated, for baking"):
            row["steam_min"] = "2"  # printed as 1 to 2 minutes: the longer
    tables["canning_process"] = _processes(folder)
    tables["canning_yield"] = _yields(folder)
    tables["recipes"] = _recipes(folder)
    tables["keeping"] = _keeping(folder)
    tables["acid"] = _acids(folder, tables["recipes"], tables["canning_process"])
    tables["limits"] = [
        {**row, "source": standing(row)[0]} for row in _read(folder / "safety_limits.csv")
    ]
    return tables


SAFER: dict[tuple[str, str], dict[str, str]] = {
    ("salt_weight", "canning"): {
        "value": "292",
        "condition": "1 cup; a page quoting Univ. of Wisconsin Extension has 220, of flaked salt",
        "verified": "no",
        "standing": "memory",
        "source": "USDA, food composition tables, table salt, from memory",
    },
}
"""Rules of which two readings are known: the one that takes the safer amount.

Salt by weight: whoever weighs 220 g for a cup of fine salt ferments with a quarter less of it."""

# Rule and subject of the package, beginning of its condition -> the same rule in the guide, read.
IN_THE_GUIDE: dict[tuple[str, str, str], tuple[str, str]] = {
    ("pressure_vent", "pressure", ""): ("vent_pressure_canner", ""),
    ("rest_before_removal", "pressure", ""): ("rest_after_depressurising", ""),
    ("water_above_jars", "boiling_water", "processing"): ("water_above_jars", "boiling water over"),
    ("sterile_jars_when_under", "all", ""): ("sterile_jars_under", ""),
    ("vinegar_acidity", "pickles", ""): ("vinegar", ""),
    ("shelf_temp", "canned", "best range low"): ("store_best", "low"),
    ("shelf_temp", "canned", "best range high"): ("store_best", "high"),
    ("fermented_hold", "dill_pickles", ""): ("fermented_dills_refrigerated", "low"),
}


def _read_in_the_guide(rows: list[dict[str, str]], notes: Path) -> list[dict[str, str]]:
    """Cite the guide's page for rules that stand in it with the very value, and verify them."""
    text = notes.read_text("utf-8").split("```csv\nrule,", 1)[1].split("```")[0]
    known = list(csv.DictReader(("rule," + text).splitlines()))
    for (rule, subject, condition), (name, which) in IN_THE_GUIDE.items():
        (found,) = (
            one for one in known
            if one["rule"] == name
            and (which in ("", "low", "high") or one["condition"].startswith(which))
        )  # fmt: skip
        low, _, high = found["value"].partition("-")
        value = high if which == "high" else low
        (row,) = (
            one for one in rows
            if (one["rule"], one["subject"]) == (rule, subject)
            and one["condition"].startswith(condition)
        )  # fmt: skip
        assert float(row["value"]) == float(value), (rule, row["value"], value)
        page = found["page"]
        source = f"{GUIDE} (rev. 2015), Guide {page[0]}, p. {page}"
        row.update(verified="yes", standing="published", source=source)
    return rows


# crop -> crop of the collected table of storage, and the beginning of the source that is taken.
KEPT: dict[str, tuple[str, str]] = {
    "onion": ("onion", "University of Massachusetts"),
    "garlic": ("garlic", "University of Massachusetts"),
    "potato": ("potato", "Iowa State University"),
    "sweet potato": ("sweet_potato", "Iowa State University"),
    "winter squash": ("winter_squash", "University of Delaware"),
    "spaghetti squash": ("winter_squash", "University of Delaware"),
    # Iowa State University has pumpkins under its winter squash: 50 to 55 F.
    "pumpkin": ("winter_squash", "University of Delaware"),
    "beet": ("beet", "University of Massachusetts"),
    "carrot": ("carrot", "University of Massachusetts"),
    "parsnip": ("parsnip", "University of Massachusetts"),
    "turnip": ("turnip", "University of Massachusetts"),
    "rutabaga": ("rutabaga", "University of Massachusetts"),
    "cabbage": ("cabbage", "University of Massachusetts"),
    "apple": ("apple", "fact sheet, publisher not stated"),
    "shell bean": ("dry_bean", "fact sheet, publisher not stated"),
}


def _keeping(folder: Path) -> list[dict[str, str]]:
    """Return how cold and how moist each stored crop is kept."""
    collected = _read(folder / "planting" / "curing_storage.csv")
    rows = []
    for crop, (name, begin) in KEPT.items():
        row = next(
            row for row in collected
            if row["crop"] == name and row["source"].startswith(begin) and row["store_rh_pct_low"]
        )  # fmt: skip
        stands = {"read": "published", "reprint": "repeated"}[row["read_or_memory"]]
        rows.append(
            {
                "crop": crop,
                "temp_low_f": row["store_temp_f_low"], "temp_high_f": row["store_temp_f_high"],
                "rh_low_pct": row["store_rh_pct_low"], "rh_high_pct": row["store_rh_pct_high"],
                "verified": "yes" if stands == "published" else "no", "standing": stands,
                "source": row["source"],
            }
        )  # fmt: skip
    return rows


def _key(row: dict[str, str]) -> tuple[str, ...]:
    names = ("product", "pack", "jar", "method", "gauge", "altitude_low_ft", "altitude_high_ft")
    return (*(row[name] for name in names), row["pressure_psi"])


def _processes(folder: Path) -> list[dict[str, str]]:
    """Return the guide's rows, and of the first collection those that the guide does not print."""
    collected = _read(folder / "canning_process_2.csv")
    guide = converted("canning_process", collected)
    for row, note in zip(guide, (one["note"] for one in collected), strict=True):
        # Where the procedure prints sterile jars and the rule of the ten minutes (p. 1-14) would do
        # without, the safe side is sterile jars in every band.
        row["sterile_jars"] = "yes" if "procedure prints sterile" in note else row["sterile_jars"]
    printed = {_key(row): row for row in guide}
    kept = []
    for row in converted("canning_process", _read(folder / "canning_process.csv")):
        same = printed.get(_key(row))
        if same is None:
            kept.append(row)
            continue
        figures = (float(row["process_min"]), float(row["headspace_in"]))
        assert figures == (float(same["process_min"]), float(same["headspace_in"])), row
    return [*guide, *kept]


def _yields(folder: Path) -> list[dict[str, str]]:
    rows = []
    for row in _read(folder / "canning_yield_2.csv"):
        if row["row_kind"] == "canner_load" and row["variant"]:
            continue  # the second produce of a mixture stands in the recipes
        citation, _ = standing(row)
        cups = row["recipe_measure"].split(" cups")[0] if "cups" in row["recipe_measure"] else ""
        low, high = row["recipe_lb"], row["recipe_lb_high"]
        if row["recipe_measure"].endswith("juice"):
            low = high = cups  # a pound of fruit gives a cup of juice at least (7-5)
            cups = ""
        jar = row["yield_jar"] or (
            "gallon_container" if row["recipe_measure"].startswith("1 gallon") else ""
        )
        rows.append(
            {
                "product": row["product"], "variant": row["variant"],
                "row_kind": row["row_kind"], "main_produce": row["main_produce"],
                "lb_per_7_quarts": row["lb_per_7_quarts"],
                "lb_per_9_pints": row["lb_per_9_pints"],
                "lb_per_quart": row["lb_per_quart_low"], "bushel_lb": row["bushel_lb"],
                "quarts_per_bushel_low": row["quarts_per_bushel_low"],
                "quarts_per_bushel_high": row["quarts_per_bushel_high"],
                "batch_lb_low": low, "batch_lb_high": high,
                "batch_measure_cups": cups.partition("-")[0],
                "jars_low": row["recipe_yield_low"], "jars_high": row["recipe_yield_high"],
                "jar_size": jar, "verified": "yes", "standing": "published", "source": citation,
            }
        )  # fmt: skip
    for row in _older(folder):
        names = list(rows[0])
        kept = {name: row.get(name, "") for name in names} | {"variant": ""}
        rows.append(kept)
    return rows


NOT_IN_THE_GUIDE = ("choice_salsa", "strawberry_jam_powdered_pectin")
"""Recipes of the first collection that the guide has not; read in extension publications."""
BESIDE = {
    "choice_salsa": [("onion or pepper", "9", "cup"), ("canning salt", "3", "tsp")],
    "strawberry_jam_powdered_pectin": [("pectin, powdered", "1", "pkg")],
}
"""Ingredients of these that stand in words in the collected row."""


def _older(folder: Path) -> list[dict[str, str]]:
    rows = converted("canning_yield", _read(folder / "canning_yield.csv"))
    return [row for row in rows if row["product"] in NOT_IN_THE_GUIDE]


SETTLED: dict[tuple[str, str], tuple[str, str, str]] = {
    ("apple_pie_filling", "bottled lemon juice"): (
        "18", "tbsp",
        "0.75 cup for 7 quarts, 2 tbsp for one, and 0.25 cup more where apples lack tartness",
    ),
    ("blueberry_pie_filling", "bottled lemon juice"): (
        "21", "tbsp", "0.5 cup for 7 quarts and 3 tbsp for one"
    ),
    ("cherry_pie_filling", "bottled lemon juice"): (
        "9.3333", "tbsp", "0.5 cup for 7 quarts and 1.33 tbsp for one"
    ),
    ("sauerkraut", "canning salt"): ("15", "tbsp", "0.75 cup for 25 lb and 3 tbsp for 5 lb"),
}  # fmt: skip
"""What the guide prints in two ways: the larger amount of acid or salt is taken, and it is said."""


TAKEN = {
    ("tomato_vegetable_juice_blend", "celery, onion, carrot or pepper"): {
        "optional": "no", "per": "7_quart_load",
    },
}  # fmt: skip
"""Optional in print, and what the product has its name of: so much at most is bought. The recipe
is of 22 lb of tomatoes, a load of 7 quarts (p. 3-6)."""


def _recipes(folder: Path) -> list[dict[str, str]]:
    rows = []
    produce: dict[str, set[str]] = {}
    for row in _read(folder / "canning_yield_2.csv"):
        produce.setdefault(row["product"], set()).add(row["main_produce"].replace("_", " "))
    for row in _read(folder / "recipe_amounts.csv"):
        citation, _ = standing(row)
        known = produce.get(row["product"], set())
        main = bool(known & {row["ingredient"], *ALSO.get(row["ingredient"], ())})
        kept = {
            "product": row["product"], "variant": row["variant"], "ingredient": row["ingredient"],
            "amount_low": row["amount_low"], "amount_high": row["amount_high"],
            "unit": row["unit"], "per": row["per"], "optional": row["optional"],
            "main": "yes" if main else "no", "settled": "",
            "verified": "yes", "standing": "published", "source": citation,
        }  # fmt: skip
        kept |= TAKEN.get((row["product"], row["ingredient"]), {})
        larger = SETTLED.get((row["product"], row["ingredient"]))
        if larger and not row["variant"]:
            amount, unit, said = larger
            kept |= {"amount_low": amount, "amount_high": amount, "unit": unit, "settled": said}
        rows.append(kept)
    second = next(
        row for row in _read(folder / "canning_yield_2.csv") if row["variant"] == "second produce"
    )
    empty = {"variant": "", "optional": "no", "main": "no", "settled": "", "verified": "yes"}
    rows.append(
        {
            "product": second["product"], "variant": "", "ingredient": "okra or zucchini",
            "amount_low": second["lb_per_7_quarts"], "amount_high": second["lb_per_7_quarts"],
            "unit": "lb", "per": "7_quart_load", "optional": "no", "main": "no", "settled": "",
            "verified": "yes", "standing": "published", "source": standing(second)[0],
        }
    )  # fmt: skip
    for row in _older(folder):
        beside = list(BESIDE[row["product"]])
        beside += [
            (name, row[column], "cup")
            for name, column in (
                ("sugar", "sugar_cups"), ("bottled lemon juice", "lemon_juice_cups"),
            )
            if row[column]
        ]  # fmt: skip
        rows += [
            {
                **empty, "product": row["product"], "ingredient": name, "amount_low": amount,
                "amount_high": amount, "unit": unit, "per": "recipe",
                "standing": row["standing"], "source": row["source"],
            }
            for name, amount, unit in beside
        ]  # fmt: skip
    names = list(rows[0])
    return [{name: row[name] for name in names} for row in rows]


ALSO = {
    "tomato": ["paste tomato"],
    "beet": ["beet no tops"],
    "sweet pepper, yellow": ["bell pepper"],
    "cauliflower or Brussels sprouts": ["cauliflower or brussels sprouts"],
    "sour cherry": ["sour cherry"],
}
"""Ingredient -> names under which the table of yields has it for its main produce."""

LEMON = ("bottled lemon juice", "bottled lemon or lime juice", "lemon juice")
FERMENTED = ("sauerkraut",)


def _acids(
    folder: Path, recipes: list[dict[str, str]], processes: list[dict[str, str]]
) -> list[dict[str, str]]:
    """Return how every product of the process table gets its acid."""
    jar: dict[str, dict[tuple[str, str], str]] = {}
    cited: dict[str, str] = {}
    for row in _read(folder / "acidification.csv"):
        if row["jar_size"] in ("pint", "quart"):
            jar.setdefault(row["product"], {})[row["acid"], row["jar_size"]] = row["amount"]
            cited[row["product"]] = standing(row)[0]
    rows = []
    for product in dict.fromkeys(row["product"] for row in processes):
        mine = [
            row for row in recipes
            if row["product"] == product and row["optional"] == "no" and not row["variant"]
        ]  # fmt: skip
        names = {row["ingredient"] for row in mine}
        vinegar, lemon = "vinegar, 5 %" in names, bool(names & set(LEMON))
        source = mine[0]["source"] if vinegar or lemon else ""
        each = jar.get(product, {})
        if each:
            kind, source = "each_jar", cited[product]
        elif product in FERMENTED:
            kind = "of_its_fermentation"
        elif vinegar and lemon:
            kind = "vinegar_and_lemon_juice_in_recipe"
        elif vinegar or lemon:
            kind = "vinegar_in_recipe" if vinegar else "lemon_juice_in_recipe"
        else:
            kind = "none_added"
        low = not any(r["method"] == "boiling_water" for r in processes if r["product"] == product)
        source = source or ("low-acid food under pressure" if low else "acid of its own")
        rows.append(
            {
                "product": product, "acid": kind,
                "lemon_juice_tbsp_pint": each.get(("bottled lemon juice", "pint"), ""),
                "lemon_juice_tbsp_quart": each.get(("bottled lemon juice", "quart"), ""),
                "citric_acid_tsp_pint": each.get(("citric acid", "pint"), ""),
                "citric_acid_tsp_quart": each.get(("citric acid", "quart"), ""),
                "source": source,
            }
        )  # fmt: skip
    return rows


def main() -> None:
    """Write the tables of the package."""
    for name, rows in rebuild(Path(sys.argv[1])).items():
        with (DATA / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
