"""The cuts of one tree over several seasons."""
