"""The board for a lamp, a buzzer or home automation: plain words and JSON, a topic each. Pure."""
