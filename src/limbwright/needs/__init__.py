"""What each tree needs, judged from the two-minute walk."""
