"""The night: when a target can be imaged, how faint then, and which angles and stars serve from dusk to dawn."""
