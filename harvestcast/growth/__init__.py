"""What the plants will do: heat, yield curves, the forecast and its scores."""
