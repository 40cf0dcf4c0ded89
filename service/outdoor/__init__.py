"""A forecast of the air outside that somebody gave: read by paths, fetched within bounds, remembered and weighed."""
