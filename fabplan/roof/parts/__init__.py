"""Cut shapes: pairs and part blanks."""
