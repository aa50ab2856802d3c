"""The manager's room: compare stock, choose a size, keep offcuts. Reads the stages, owns none."""
