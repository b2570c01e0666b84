"""An invented holding of old trees, to try everything on."""
