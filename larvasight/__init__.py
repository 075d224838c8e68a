"""A practice trainer for the eye that picks larvae for queen rearing."""

__version__ = "0.1.0"
