"""Factors between units: their one home. Inside everything is kg, m, l, kPa and degrees C."""

KG_PER_LB = 0.45359237
"""Exact: international avoirdupois pound. [kg]"""
KG_PER_OZ = KG_PER_LB / 16
M_PER_FT = 0.3048
"""Exact: international yard and pound agreement, 1959. [m]"""
M_PER_IN = M_PER_FT / 12
M2_PER_SQFT = M_PER_FT**2
L_PER_CUP = 3.785411784 / 16
"""Exact: US cup, a sixteenth of the US liquid gallon. [l]"""
L_PER_PINT = 2 * L_PER_CUP
L_PER_QUART = 4 * L_PER_CUP
L_PER_FLOZ = L_PER_CUP / 8
L_PER_TBSP = L_PER_CUP / 16
L_PER_TSP = L_PER_CUP / 48
L_PER_CUFT = 1000 * M_PER_FT**3
KPA_PER_PSI = 6.894757
"""Pound-force per square inch, NIST SP 811 (2008), appendix B.8. [kPa]"""
F_PER_C = 1.8
"""Degrees F in one degree C of difference; :func:`celsius` for a temperature."""

KG: dict[str, float] = {"kg": 1.0, "g": 0.001, "lb": KG_PER_LB, "oz": KG_PER_OZ}
"""Kilograms in one of every unit of weight that may be typed."""


def celsius(fahrenheit: float) -> float:
    """Return a temperature in degrees C.

    Examples
    --------
    >>> celsius(212)
    100.0
    """
    return (fahrenheit - 32) / F_PER_C
