"""What each page of the packet holds."""
