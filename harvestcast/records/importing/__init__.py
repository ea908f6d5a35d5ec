"""Logs kept in another form, with a preview of every line."""
