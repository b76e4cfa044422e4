"""How dates are written."""
