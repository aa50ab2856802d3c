"""Pictures of nested stock and of single cuts."""
