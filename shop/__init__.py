"""The workshop itself: settings, start-up, people, the kit, patterns and builds."""

__version__ = "1.0"
