"""Ways to tell somebody, one small file each."""
