"""What was done and measured: tables, stores and the ledger. The only place that writes SQL."""
