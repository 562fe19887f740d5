"""Edge cases and properties of the physics floor."""
