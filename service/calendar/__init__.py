"""Coming dips as a calendar that phones subscribe to (iCalendar, RFC 5545), at an address nobody can guess."""
