"""What was written down: picks, plantings, weather, pantry and settings."""
