"""Renderers of a result: text, JSON and figures. Nothing is worked out here that a result does not hold."""
