"""What can hardly be meant: dates, amounts, picks written twice, logs that disagree."""
