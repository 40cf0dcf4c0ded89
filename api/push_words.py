"""What the script of the page “Messages” says, in the language of whoever reads it."""

from __future__ import annotations

from service.voice import later, say

WORDS = {
    "missing": later(
        "This browser cannot be rung. An iPhone or iPad rings only for a page that was put on its home screen and "
        "opened from there."
    ),
    "sent": later("Sent: it should ring within a minute."),
    "not_sent": later("Did not go out: {why}."),
    "https": later("This phone can only be rung here over https: open coatbell by its https address."),
    "new_key": later("Coatbell has a new key: switch this browser on once more."),
    "forgotten": later(
        "This browser was rung before, but no more: it was forgotten here, or its push service let it go. Switch it on "
        "again."
    ),
    "not_allowed": later(
        "This browser does not let coatbell ring. Allow notifications for this page in its settings, then try again."
    ),
    "away": later("The push service of this browser could not be reached: it needs the internet. ({why})"),
}


def push_words() -> dict[str, str]:
    """By the names the script knows; what is in braces it fills in itself."""
    return {name: say(text) for name, text in WORDS.items()}
