"""Many clients at once: audit, and how far suggestions can be trusted."""
