"""Tests of harvestcast, and the helpers they share."""
