"""From tables and files to skeletons: reading, checking, building the whole tree."""
