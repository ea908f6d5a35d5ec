"""The season's end: sentences, parts of its page."""
