"""The view over the bow, drawn frame by frame: sky, sea, deck, spray and the clap."""
