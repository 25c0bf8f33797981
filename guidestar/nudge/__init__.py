"""Shifts of the framing that bring a guide star, and mosaics of several framings."""
