"""Joins rig, target and stars into one result."""
