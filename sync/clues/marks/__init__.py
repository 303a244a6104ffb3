"""Instants in sound, in logs and in pictures, and which of them are tie marks."""
