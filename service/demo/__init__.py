"""Saltmarsh Bronze, a foundry that does not exist: its shed, its moulds, its week so far and its hands.

Everything here is invented but the weather, which was recorded. Nothing here runs unless the demo is asked for.
"""
