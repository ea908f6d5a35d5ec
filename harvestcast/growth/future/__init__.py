"""What may come: weather, draws of ripening and picking."""
