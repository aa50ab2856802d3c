"""Pictures of bend strokes."""
