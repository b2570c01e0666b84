"""What records teach: forecast against found, and settings that learn from it."""
