"""The commands that a person types. Thin: they call the rooms below and hold no physics."""
