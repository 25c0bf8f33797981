"""Stars: where they come from, what is known of each, and how to ask for those around a point."""
