"""The raise: states, stages, lifts, and every section's pose at any travel."""
