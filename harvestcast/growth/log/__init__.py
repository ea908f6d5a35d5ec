"""What the log says, as arrays."""
