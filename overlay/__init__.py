"""From aligned logs and footage to results, graphics and finished clips."""
