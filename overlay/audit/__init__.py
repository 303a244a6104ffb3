"""The audit: what stands on the finished picture, held against the ledger and against the logs."""
