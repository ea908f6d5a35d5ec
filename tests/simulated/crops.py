"""How the simulated crops behave: invented numbers of a plausible size, for tests only.

They come from no table and must not be used as garden advice; they are chosen so that the
simulated harvest looks like that of a kitchen garden.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CropNature:
    """What every variety of one simulated crop has in common."""

    base_c: float
    upper_c: float
    how: str
    """'sown' or 'set_out'."""
    after_last_frost: int
    """Usual planting day, days after the mean last frost."""
    flower_dd: float
    """Heat from planting to the first flower (first cut, for leaves)."""
    ripen_dd: float
    """Heat from a flower to a fruit that is ready."""
    ripen_cv: float
    burst: bool
    """One burst of flowers (True) or flowering until the plant is spent or killed."""
    length_dd: float
    """Length of the burst, or heat from first flower to half spent."""
    fruits: float
    """Flowers that a plant could turn into fruit if nothing held it back."""
    load: float
    """Growing fruits a plant carries before it sheds half its young ones; small gives flushes."""
    fruit_kg: float
    fruit_cv: float
    oversize_days: float
    """Days a ready fruit stays good; 99: it does not grow too big."""
    growth: float
    """Factor by which a fruit that was missed gains weight in a day."""
    keeps_days: int
    """Days after which a ready fruit has dropped or rotted on the plant."""
    plants: tuple[int, int]
    sowings: int
    """Usual number of sowings a year, 18 days apart."""
    kill_c: float
    """Daily minimum that kills the plants."""
    look: float
    """Chance that someone in the garden looks at this crop when it bears."""
    record: tuple[str, ...]
    """Ways of writing the pick down: 'count', 'weight', 'both'."""


_TENDER = {"kill_c": -0.5}
_HARDY = {"kill_c": -7.0}

CROPS: dict[str, CropNature] = {
    "cucumber": CropNature(
        base_c=12, upper_c=32, how="sown", after_last_frost=12, flower_dd=270, ripen_dd=75,
        ripen_cv=0.18, burst=False, length_dd=480, fruits=26, load=3.0, fruit_kg=0.14,
        fruit_cv=0.35, oversize_days=3, growth=1.22, keeps_days=25, plants=(3, 14), sowings=1,
        look=0.95, record=("count", "both", "weight"), **_TENDER,
    ),
    "zucchini": CropNature(
        base_c=10, upper_c=32, how="sown", after_last_frost=10, flower_dd=400, ripen_dd=60,
        ripen_cv=0.2, burst=False, length_dd=650, fruits=34, load=2.0, fruit_kg=0.24,
        fruit_cv=0.3, oversize_days=2, growth=1.35, keeps_days=25, plants=(1, 5), sowings=1,
        look=0.95, record=("count", "both"), **_TENDER,
    ),
    "snap bean": CropNature(
        base_c=10, upper_c=30, how="sown", after_last_frost=8, flower_dd=400, ripen_dd=150,
        ripen_cv=0.2, burst=True, length_dd=260, fruits=48, load=30, fruit_kg=0.0058,
        fruit_cv=0.25, oversize_days=6, growth=1.07, keeps_days=18, plants=(20, 70), sowings=2,
        look=0.8, record=("weight",), **_TENDER,
    ),
    "tomato": CropNature(
        base_c=10, upper_c=30, how="set_out", after_last_frost=12, flower_dd=150, ripen_dd=560,
        ripen_cv=0.12, burst=False, length_dd=750, fruits=60, load=30, fruit_kg=0.14,
        fruit_cv=0.35, oversize_days=99, growth=1.0, keeps_days=12, plants=(1, 8), sowings=1,
        look=0.9, record=("count", "weight", "both"), **_TENDER,
    ),
    "sweet pepper": CropNature(
        base_c=12, upper_c=32, how="set_out", after_last_frost=18, flower_dd=160, ripen_dd=380,
        ripen_cv=0.12, burst=False, length_dd=800, fruits=30, load=4.0, fruit_kg=0.12,
        fruit_cv=0.3, oversize_days=99, growth=1.0, keeps_days=30, plants=(3, 10), sowings=1,
        look=0.5, record=("count", "both"), **_TENDER,
    ),
    "hot pepper": CropNature(
        base_c=12, upper_c=33, how="set_out", after_last_frost=18, flower_dd=180, ripen_dd=400,
        ripen_cv=0.15, burst=False, length_dd=800, fruits=80, load=18, fruit_kg=0.018,
        fruit_cv=0.3, oversize_days=99, growth=1.0, keeps_days=40, plants=(1, 6), sowings=1,
        look=0.4, record=("count", "weight"), **_TENDER,
    ),
    "okra": CropNature(
        base_c=15, upper_c=35, how="sown", after_last_frost=20, flower_dd=320, ripen_dd=50,
        ripen_cv=0.2, burst=False, length_dd=600, fruits=40, load=5.0, fruit_kg=0.014,
        fruit_cv=0.3, oversize_days=2, growth=1.3, keeps_days=20, plants=(6, 20), sowings=1,
        look=0.9, record=("count", "weight"), **_TENDER,
    ),
    "eggplant": CropNature(
        base_c=13, upper_c=33, how="set_out", after_last_frost=20, flower_dd=180, ripen_dd=240,
        ripen_cv=0.15, burst=False, length_dd=700, fruits=16, load=3.0, fruit_kg=0.28,
        fruit_cv=0.3, oversize_days=9, growth=1.04, keeps_days=30, plants=(2, 6), sowings=1,
        look=0.6, record=("count", "both"), **_TENDER,
    ),
    "pea": CropNature(
        base_c=4, upper_c=27, how="sown", after_last_frost=-25, flower_dd=480, ripen_dd=210,
        ripen_cv=0.18, burst=True, length_dd=260, fruits=26, load=18, fruit_kg=0.0045,
        fruit_cv=0.25, oversize_days=6, growth=1.05, keeps_days=14, plants=(40, 120), sowings=1,
        look=0.8, record=("weight",), **_HARDY,
    ),
    "sweet corn": CropNature(
        base_c=10, upper_c=30, how="sown", after_last_frost=6, flower_dd=560, ripen_dd=270,
        ripen_cv=0.07, burst=True, length_dd=90, fruits=2.1, load=4.0, fruit_kg=0.30,
        fruit_cv=0.2, oversize_days=7, growth=1.02, keeps_days=16, plants=(20, 60), sowings=2,
        look=0.7, record=("count", "both"), **_TENDER,
    ),
    "winter squash": CropNature(
        base_c=10, upper_c=33, how="sown", after_last_frost=10, flower_dd=520, ripen_dd=620,
        ripen_cv=0.08, burst=False, length_dd=300, fruits=8, load=2.0, fruit_kg=1.1,
        fruit_cv=0.35, oversize_days=99, growth=1.0, keeps_days=60, plants=(2, 8), sowings=1,
        look=0.25, record=("both", "weight"), **_TENDER,
    ),
    "chard": CropNature(
        base_c=5, upper_c=28, how="sown", after_last_frost=-10, flower_dd=420, ripen_dd=110,
        ripen_cv=0.25, burst=False, length_dd=1500, fruits=150, load=14, fruit_kg=0.02,
        fruit_cv=0.3, oversize_days=99, growth=1.02, keeps_days=30, plants=(8, 25), sowings=1,
        look=0.35, record=("weight",), **_HARDY,
    ),
    "lettuce": CropNature(
        base_c=4, upper_c=26, how="sown", after_last_frost=-15, flower_dd=430, ripen_dd=80,
        ripen_cv=0.25, burst=True, length_dd=360, fruits=26, load=12, fruit_kg=0.010,
        fruit_cv=0.3, oversize_days=99, growth=1.02, keeps_days=12, plants=(15, 60), sowings=3,
        look=0.4, record=("weight",), **_HARDY,
    ),
}  # fmt: skip
