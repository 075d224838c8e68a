"""Marked pictures, charts and printed pages (QtGui, no widgets).

Nothing is imported here: the window needs only the font before its first paint.
"""
