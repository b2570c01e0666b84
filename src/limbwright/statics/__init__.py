"""Load, strength and chance of failure on a skeleton."""
