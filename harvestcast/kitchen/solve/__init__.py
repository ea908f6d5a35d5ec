"""The week's programme: its model, its solution, what follows from it."""
