"""Candidate cuts, the best set within the limits, and why."""
