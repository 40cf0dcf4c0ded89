"""Messages to a browser on somebody's phone (RFC 8030), encrypted for it alone (RFC 8291)."""
