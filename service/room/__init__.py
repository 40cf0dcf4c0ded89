"""Readings and records joined: the air each mould stood in, how wet each zone is, when it will be ready."""
