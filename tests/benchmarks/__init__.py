"""Benchmarks: run by hand, never part of the ordinary suite."""
