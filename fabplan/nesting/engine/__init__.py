"""The cutting engine: rectangles on an integer grid, cut from coils, sheets and offcuts by straight edge-to-edge cuts."""
