"""Any table file as rows of cells: text, spreadsheets, headings, and what was wrong in them."""
