"""The season's end: varieties compared, lessons for the kitchen."""
