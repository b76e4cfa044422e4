"""Backups: one file each, with all that the shop entered, checked when it is written and before it is put back."""
