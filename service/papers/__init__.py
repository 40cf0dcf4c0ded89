"""The record taken along as files, and the foundry's old notebook taken in."""
