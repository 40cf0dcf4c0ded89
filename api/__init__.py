"""Pages, JSON and the live stream. Decides nothing."""
