"""Light and air in a crown."""
