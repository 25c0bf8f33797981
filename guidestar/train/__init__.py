"""The imaging train: spacing, both cameras in focus at once, the prism's depth and shadow, building order."""
