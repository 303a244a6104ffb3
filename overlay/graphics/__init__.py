"""Instruments on the picture: a faceplate and a subject become a plan, and a plan draws.

The road through this room: `faceplate` reads a file into a frozen spec, `plan.compile_plan`
places its instruments on a picture and draws their still layers once, and `Plan.draw` blends
them into the planes of one frame after the other. Everything is drawn in the picture's own
Y'CbCr; nothing here knows how a frame was decoded or what becomes of it.
"""
