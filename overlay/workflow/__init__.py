"""What the commands do, as plain functions that return a frozen outcome. Nobody prints here."""
