"""The parts of the engine note: what is heard, where it fits, and whether that is enough."""
