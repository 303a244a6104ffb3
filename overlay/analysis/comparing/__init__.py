"""The parts of a comparison: what must be alike, which figures there are, where steps meet."""
