"""Looking for clues in everything that a crew brought home."""
