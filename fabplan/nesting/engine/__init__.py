"""The cutting engine: rectangles on an integer grid, from coils, sheets and offcuts, by edge-to-edge cuts."""
