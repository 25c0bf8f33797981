"""Camera angles: circular intervals, a guide field's acceptance, coverage. Plain floats and arrays only."""
