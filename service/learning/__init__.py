"""What a shop teaches: evidence about moulds that hang, and what is learned from it. Pure; knows the drying alone."""
