"""What changed, and what followed: events against comparable steps without them."""
