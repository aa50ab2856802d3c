"""Ways of nesting one metal, tried and compared."""
