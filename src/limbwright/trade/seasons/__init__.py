"""The seasons of the orchard: rules, the climate they follow, and the days that are open."""
