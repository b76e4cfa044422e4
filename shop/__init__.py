"""The workshop itself: settings, start-up, people, the kit, patterns and builds."""
