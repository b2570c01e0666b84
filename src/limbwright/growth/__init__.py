"""How trees grow: wood, shoots and leaf, with and without the saw."""
