"""Results by their printed definitions, worked out a second time."""
