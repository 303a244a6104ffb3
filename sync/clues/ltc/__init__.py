"""Linear timecode: from a waveform to bits, words and runs of labels."""
