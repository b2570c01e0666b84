"""Young trees: forming a goblet year by year."""
