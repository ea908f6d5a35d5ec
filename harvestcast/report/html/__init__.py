"""Pages: pieces, rendering, sheets to print."""
