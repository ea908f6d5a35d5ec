"""The week: results, sentences, parts of its page."""
