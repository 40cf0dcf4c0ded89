"""Checks of the whole service, laid out as the source is."""
