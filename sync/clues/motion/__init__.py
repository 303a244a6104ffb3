"""The parts of shared motion: signals, the law between them, and every offset tried."""
