"""What to learn: varieties compared and next season laid out."""
