"""The settings of Quillmarsh, and the lines of its kitchen book that no batch makes."""

# Further lines of the kitchen book: what was counted, bought, given, and put up beside the rest.
KITCHEN = """\
2025-06-14,put up,strawberry jam,half pint,7,5,2.2,
2025-06-18,put up,strawberry jam,half pint,8,5,2.0,
2025-07-26,put up,garlic in store,kg,11 lb,,,plaited
2025-11-16,used,garlic in store,kg,2 lb,,,
2025-11-22,put up,frozen kale,pint bag,6,5,1.4,
2025-12-14,used,strawberry jam,half pint,3,,,
2026-01-11,used,garlic in store,kg,2 lb,,,
2026-01-25,gave,strawberry jam,half pint,2,,,to the neighbors
2026-02-08,used,frozen kale,pint bag,3,,,
2026-03-08,used,strawberry jam,half pint,4,,,
2026-03-22,threw out,garlic in store,kg,1 lb,,,sprouted
2026-05-17,used,strawberry jam,half pint,3,,,
2026-06-10,put up,strawberry jam,half pint,7,5,2.1,
2026-06-14,put up,frozen strawberries,pint bag,5,5,0.7,
2026-06-17,put up,strawberry jam,half pint,8,5,2.0,
2026-06-30,bought,half-pint jars,,12,,,
2026-07-12,put up,fermented dill pickles,quart,4,8,1.2,in the crock
2026-07-18,bought,vinegar,,1 gal,,,
2026-07-19,gave,cucumbers,,6 lb,,,
2026-07-22,fed,zucchini,,5 lb,,,to the hens
2026-07-23,put up,garlic in store,kg,14 lb,,,plaited
2026-07-24,counted,pint jars,,43,,,
2026-07-24,counted,quart jars,,44,,,
2026-07-24,counted,lids,,60,,,
2026-07-24,counted,freezer bags,,46,,,
2026-07-24,counted,vinegar,,1.75 gal,,,
2026-07-24,counted,canning salt,,3 lb,,,
2026-07-24,counted,sugar,,8 lb,,,
2026-07-25,counted,cucumbers,,30 lb,,,
2026-07-25,counted,green beans,,12 lb,,,
2026-07-25,counted,tomatoes,,4 lb,,,
2026-07-25,counted,zucchini,,3 lb,,,
"""

SETTINGS = """\
# An INVENTED garden, made up for harvestcast: the village of Quillmarsh, the household, the
# weather station and the names of all varieties do not exist, and nobody picked or canned
# anything in this log. A seeded program wrote it (tests/make_sample_logs.py).

place = "Quillmarsh (an invented village)"
elevation_ft = 1180             # no canning time is shown without it
latitude = 44                   # degrees, negative in the south: says when the season begins
units = "us"                    # "us" or "metric"; how amounts are shown
people = 7
last_frost = "05-01"
first_frost = "10-12"
day_without_row = "not_picked"  # a day without a line in the picks: nobody picked (the other
                                # choice, "nothing_ripe": somebody always looks)
# stove_places = 2              # kettles that fit on the stove at a time, if not all
# bed_area_ft2 = 900            # beds to plant next year, if not as much as this year's

counted_on = "2026-07-01"       # evening on which jars, stock and free room below were counted;
                                # what was put up since is taken off

# What is eaten fresh, given to neighbors and fed to the hens. All of it may be left out.
[crops.cucumber]
eat_lb_per_person_week = 0.9
give_lb_week = 4
animals_lb_week = 4

[crops.zucchini]
eat_lb_per_person_week = 0.8
give_lb_week = 5
animals_lb_week = 10

[crops."snap bean"]
eat_lb_per_person_week = 0.7
give_lb_week = 2

[crops.tomato]
eat_lb_per_person_week = 1.5
give_lb_week = 4
keep = "counter"
# aliases = ["love apples"]     # further names of the crop in your files
# varieties_apart = ["Bob"]     # no other spelling of Plumb Bob, but a variety of its own

[crops."winter squash"]
keep = "cool_store"

[[equipment]]
kind = "boiling_water_canner"
pints = 9
quarts = 7

[[equipment]]
kind = "pressure_canner"
gauge = "dial"                  # "dial" or "weighted": the tables differ
pints = 9
quarts = 7

[[equipment]]
kind = "dryer"
trays = 8
tray_area_in2 = 180

[[equipment]]
kind = "crock"                  # for what ferments
free_gal = 2

[[equipment]]
kind = "freezer"
free_ft3 = 3.5

[[equipment]]
kind = "refrigerator"
free_ft3 = 1.8

[[equipment]]
kind = "cool_store"
name = "cellar"
free_ft3 = 10

# Hours somebody can stand in the kitchen and put up, beside cooking.
[hours]
monday = 2
wednesday = 2
friday = 2
saturday = 5
sunday = 4

# Empty jars, new lids and bags in the house.
[jars]
half_pint = 18
pint = 64
quart = 52
lids = 84
freezer_bags = 60

[stock]
vinegar_gal = 1.5
salt_lb = 4
sugar_lb = 10
onion_lb = 6

# Jars or bags a year that the shelf should hold for this family.
[targets]
"dill pickles" = 40
"bread and butter pickles" = 24
"canned green beans" = 40
"frozen green beans" = 24
"canned tomatoes" = 42
"tomato sauce" = 24
"frozen corn" = 24
"frozen peas" = 12
"frozen peppers" = 12
"fermented dill pickles" = 8
"strawberry jam" = 16           # in half pints
"frozen strawberries" = 20
"""
