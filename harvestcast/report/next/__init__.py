"""Next season: sentences, parts of its page."""
