"""From aligned channels to signals, runs and results."""
