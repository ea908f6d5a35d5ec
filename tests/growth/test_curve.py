"""The yield curve against answers derivable by hand and numerical slopes."""

import numpy as np
import pytest
from scipy.integrate import quad

from harvestcast.growth.model.curve import (
    curve_of,
    expit,
    log_curve,
    season_heat,
    season_total,
    softplus,
)

P = np.array([np.log(0.02), np.log(600.0), np.log(500.0), np.log(0.1), np.log(0.2)])


def test_half_height_where_it_rises_and_falls() -> None:
    h1, h2, s1, s2 = curve_of(P)
    values = np.exp(log_curve([h1, h2], h1, h2, s1, s2))
    # The other edge is many widths away: 10 at the rise, 5 at the fall.
    assert values[0] == pytest.approx(0.5 * expit(500 / 100), rel=1e-12)
    assert values[1] == pytest.approx(0.5 * expit(500 / 50), rel=1e-12)


def test_never_above_full_bearing_and_one_peak() -> None:
    values = log_curve(np.linspace(0, 3000, 500), *curve_of(P))
    assert values.max() <= 0
    turns = np.diff(np.sign(np.diff(values)))
    assert (turns != 0).sum() == 1


def test_far_outside_it_is_finite_in_logs() -> None:
    assert np.isfinite(log_curve([0.0, 1e6], 600.0, 1100.0, 1.0, 1.0)).all()
    assert softplus(1e5) == 1e5


def test_total_and_heat_of_shares_agree_with_integration() -> None:
    h1, h2, s1, s2 = (float(x) for x in curve_of(P))

    def rate(h: float) -> float:
        return float(np.exp(P[0] + log_curve(h, h1, h2, s1, s2)))

    total = quad(rate, 0, 3000, points=[h1, h2], limit=200)[0]
    assert season_total(P) == pytest.approx(total, rel=2e-4)
    for share, heat in zip((0.1, 0.5, 0.9), season_heat(P), strict=True):
        assert quad(rate, 0, heat, points=[h1], limit=200)[0] / total == pytest.approx(
            share, abs=2e-3
        )
