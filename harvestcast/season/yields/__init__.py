"""What the plantings of a season bore, and how sure that is."""
