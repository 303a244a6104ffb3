"""Pages and plots that a person judges a trial by."""
