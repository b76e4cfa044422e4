"""The tests, by package."""
