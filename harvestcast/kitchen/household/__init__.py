"""What this household has and wants: capacity, demand, pantry."""
