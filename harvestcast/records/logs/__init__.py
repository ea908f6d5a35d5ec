"""The files of a garden folder: picks, plantings, pantry, weather."""
