"""What goes with the diamonds: edges, underlayment, fasteners, kits, variation."""
