"""The use cases that window and commands share."""
