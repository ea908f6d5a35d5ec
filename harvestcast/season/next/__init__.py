"""Next season's beds: options, futures, plan and reasons."""
