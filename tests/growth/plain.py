"""The model's formulas written down plainly, for tests to hold the package's fast ones against."""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array
from harvestcast.growth.model.density import (
    TINY,
    Evidence,
    Noise,
    constant,
    kept_share,
    rates,
    ready,
    terms,
)


def log_curve(heat, h1, h2, s1, s2):
    """Log of the rate relative to full bearing; arguments may be complex."""
    return -np.log1p(np.exp(-(heat - h1) / s1)) - np.log1p(np.exp(-(h2 - heat) / s2))


def log_rate(theta, heat):
    """Log of the rate by the five fitted parameters of one curve; they may be complex."""
    level, h1, span = theta[0], np.exp(theta[1]), np.exp(theta[2])
    return level + log_curve(heat, h1, h1 + span, span * np.exp(theta[3]), span * np.exp(theta[4]))


def log_posterior(evidence: Evidence, noise: Noise, u: Array) -> Array:
    """Return the log posterior of each series up to a constant of the prior (n,)."""
    rate = rates(evidence, u)
    hanging = ready(rate, kept_share(evidence.picked, noise.left, noise.keep)) + TINY
    number = np.nan_to_num(evidence.picked) / evidence.unit[:, None]
    picked, zero = number > 0, evidence.picked == 0
    size, look = noise.size[:, None] * evidence.gathered, noise.look[:, None]
    said = terms(
        hanging,
        number,
        picked,
        zero,
        evidence.came,
        ((1.0 - noise.left) / evidence.unit)[:, None],
        size,
        (noise.ease - noise.zeal * np.log(evidence.usual))[:, None],
        noise.zeal[:, None],
        look,
    )
    value = said.value + constant(number, picked, size, look)
    return value.sum(axis=1) - 0.5 * (u**2).sum(axis=1)
