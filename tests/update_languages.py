"""Brings the catalogues up to date with the source: ``python -m tests.update_languages``."""

from __future__ import annotations

from tests.languages import OTHERS, catalogue, entries, po_file, renew


def main() -> None:
    for language in OTHERS:
        renew(language, po_file(language))
        missing = [message for message in entries(catalogue(language)) if not _whole(message.string)]
        print(f"{po_file(language).name}: {len(missing)} of {len(entries(catalogue(language)))} to translate")


def _whole(string: object) -> bool:
    return bool(string) and (isinstance(string, str) or all(string))  # type: ignore[call-overload]


if __name__ == "__main__":
    main()
