"""Drawings of boards as SVG, for the screen and for paper.

Everything is drawn in the millimetres of the thing drawn. No style attribute is ever written, so that the
pages' content security policy holds; colours are ``currentColor`` and follow the ink around them.
"""
