"""What is known of a crop: the almanac and degree-days."""
