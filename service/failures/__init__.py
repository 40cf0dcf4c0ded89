"""What failed shells share and sound ones do not: exact tests over all finished moulds. Pure functions of views."""
