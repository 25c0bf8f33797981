"""A flat frame's one-sided shadow: found, measured, and told apart from the telescope's own falloff and from dust."""
