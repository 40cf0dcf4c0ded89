"""Air in: MQTT messages decoded, judged and handed over as readings. Knows nothing of moulds."""
