"""Where two sounds are one, and how near."""
