"""What other programs take from a trial: its day lined up on one time line, and captions.

`grid` counts the frames of the sequence and labels them, `placing` lays recordings on it,
`renders` finds the clips and transparent renders that a trial has by their ledgers, `lineup` is
the sequence as a value, `otio_file` and `edl` write it down, `captions` has the figures of a
clip as SubRip and WebVTT.
"""
