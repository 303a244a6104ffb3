"""What `trialreel check` looks at, one part of the day a module."""
