"""Figures that were read: process times, products, recipe amounts."""
