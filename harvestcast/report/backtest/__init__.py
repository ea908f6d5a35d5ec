"""A back-test shown: what would have been said of past weeks, and what came."""
