"""Writing into a garden folder: a pick, a sheet, a new garden; nothing is ever lost."""
