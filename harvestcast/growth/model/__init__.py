"""The yield model: curve, noise, prior, and its fit."""
