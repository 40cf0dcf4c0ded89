"""What a shell room knows and decides."""
