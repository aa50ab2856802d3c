"""Pictures of slopes and roofs."""
