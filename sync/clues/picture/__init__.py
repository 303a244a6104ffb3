"""What a picture shows of lamps and of how it turns, and how a log's turning fits it."""
