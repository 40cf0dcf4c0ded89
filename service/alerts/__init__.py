"""Who is told what, and when: a pure decision, an outbox, one small file a notifier."""
