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
    "USDA AIB 539 (2015)": (f"{GUIDE} (rev. 2015)", "published"),
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
    "banana_pepper": "hot pepper",
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
    if row["read_or_memory"] != "read":
        stands = "memory"
    return citation, stands


GUIDE_6 = "USDA AIB 539 (2015) Complete Guide to Home Canning, Guide 6, p. 6-24"
PACKS_OF_THE_GUIDE = {"pickled_yellow_pepper_rings": ("hot", GUIDE_6)}
"""Pack, and where the guide prints it, of rows whose recipe page leaves out the style of pack: its
times are those of the guide, which hold for that pack."""


def converted(name: str, rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the rows of one table as the package keeps them."""
    done = []
    for row in rows:
        citation, stands = standing(row)
        kept = {k: v for k, v in row.items() if k not in (*DROPPED, "source")}
        if name == "canning_process":
            pack, citation = PACKS_OF_THE_GUIDE.get(kept["product"], (kept["pack"], citation))
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


TABLES = (
    "canning_process",
    "canning_yield",
    "freezing",
    "drying",
    "storage",
    "weights",
    "rules",
)


def rebuild(folder: Path) -> dict[str, list[dict[str, str]]]:
    """Return every table of the package, converted from the collected folder."""
    tables = {}
    for name in TABLES:
        with (folder / f"{name}.csv").open(newline="", encoding="utf-8") as file:
            tables[name] = converted(name, list(csv.DictReader(file)))
        more = ADDITIONS / f"{name}.csv"
        if more.exists():
            with more.open(newline="", encoding="utf-8") as file:
                tables[name] += list(csv.DictReader(file))
    return tables


def main() -> None:
    """Write the tables of the package."""
    for name, rows in rebuild(Path(sys.argv[1])).items():
        with (DATA / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
