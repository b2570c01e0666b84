"""What the trade and mechanics know: constants with sources, species, windows."""
