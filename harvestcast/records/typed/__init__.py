"""What people type: numbers, dates and crop names become values, or are refused."""
