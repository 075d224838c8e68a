"""Marked pictures and printed pages (QtGui, no widgets)."""

from larvasight.paper.marked import save_marked_picture

__all__ = ["save_marked_picture"]
