"""One file a family of piece kinds: finished sizes to a laid-out flat piece."""
