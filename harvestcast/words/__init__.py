"""How amounts, days, lists and plurals are said."""
