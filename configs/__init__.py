"""Settings, recipes and sensor declarations that ship with coatbell; a shop reads and edits copies of them."""
