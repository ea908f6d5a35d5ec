"""The season ahead: sentences, parts of its page."""
