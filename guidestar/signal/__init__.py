"""Light as electrons: star and sky, noise, reach, saturation, centroid error. Floats and arrays only."""
