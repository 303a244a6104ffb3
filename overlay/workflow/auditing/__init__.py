"""What `trialreel audit` is made of: inputs, pieces of film, the check of the tie, the report."""
