"""The sky: target names and coordinates, the gnomonic plane, frames, dates, and the HEALPix shim."""
