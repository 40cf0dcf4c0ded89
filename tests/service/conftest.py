"""What the tests of whole commands share with those of the records: a schema of their own on PostgreSQL."""

from __future__ import annotations

from tests.service.records.conftest import fresh_postgresql_url, server

__all__ = ["fresh_postgresql_url", "server"]
