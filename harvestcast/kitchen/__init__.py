"""What the household can do with it: handbook, capacity, demand, the programme."""
