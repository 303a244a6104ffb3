"""Timecode labels at instants of footage, and what two of them say of each other."""
