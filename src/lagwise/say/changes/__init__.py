"""Words of what changed and what followed."""
