"""Logs and footage on one clock."""
