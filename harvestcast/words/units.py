"""Amounts in sentences, in the household's units; tables stay metric."""

from __future__ import annotations

from harvestcast.units import KG_PER_LB, M2_PER_SQFT


def mass_words(kg: float, units: str) -> str:
    """Return a mass in words.

    Parameters
    ----------
    kg : float
        Mass. [kg]
    units : str
        The household's: ``us`` or ``metric``.

    Examples
    --------
    >>> mass_words(10.0, "us"), mass_words(10.0, "metric"), mass_words(0.5, "metric")
    ('22 lb', '10 kg', '0.5 kg')
    """
    amount, name = (kg / KG_PER_LB, "lb") if units == "us" else (kg, "kg")
    return f"{amount:.0f} {name}" if amount >= 9.5 else f"{amount:.1f} {name}"


def area_words(m2: float, units: str) -> str:
    """Return an area in words.

    Parameters
    ----------
    m2 : float
        Area. [m2]
    units : str
        The household's: ``us`` or ``metric``.

    Examples
    --------
    >>> area_words(10.0, "us"), area_words(10.0, "metric")
    ('108 sq ft', '10.0 m2')
    """
    return f"{m2 / M2_PER_SQFT:,.0f} sq ft" if units == "us" else f"{m2:,.1f} m2"


def area_key(units: str) -> str:
    """Return the key of garden.toml that holds the bed area in the household's units.

    Parameters
    ----------
    units : str
        The household's: ``us`` or ``metric``.

    Examples
    --------
    >>> area_key("us"), area_key("metric")
    ('bed_area_ft2', 'bed_area_m2')
    """
    return "bed_area_ft2" if units == "us" else "bed_area_m2"
