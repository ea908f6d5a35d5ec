"""The week's plan: options, batches, balance, shopping, reasons."""
