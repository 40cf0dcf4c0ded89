"""How a ceramic shell dries: pure functions, SI floats, no clock, no files, nothing else of ours."""
