"""Published tables and formulas, one family to a file, each with its source."""
