"""The whole season ahead: what comes when, and what the kitchen makes of it."""
