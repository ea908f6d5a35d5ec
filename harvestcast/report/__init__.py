"""What to show: figures, reports and the command line."""
