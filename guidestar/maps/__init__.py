"""The whole sky: every place as a target, every camera angle; and rigs compared by it."""
