"""The window: pages, widgets and jobs; no arithmetic of larvae or scores."""
