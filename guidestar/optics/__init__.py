"""Geometry of the light path: guide field, beam footprint, transmission, shadow. Plain floats and arrays only."""
