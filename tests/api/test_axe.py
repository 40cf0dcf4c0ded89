"""axe sees what it should see."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

import pytest

from tests.api.axe import barriers
from tests.api.browser import browser

pytestmark = pytest.mark.browser

GOOD = """<!doctype html><html lang="en"><title>Heron</title><main><h1>Heron</h1>
<label>Who <input></label> <button style="min-height:44px;min-width:44px">Dipped</button></main></html>"""
BAD = """<!doctype html><html><title>Heron</title><main><h1>Heron</h1><input>
<p style="color:#aaa;background:#bbb">Dip it now</p></main></html>"""


def test_it_finds_a_field_without_a_name_and_pale_words(tmp_path: Path) -> None:
    with browser(800, 600) as driver:
        driver.get(f"data:text/html,{quote(BAD)}")
        rules = {line.partition(":")[0] for line in barriers(driver)}
        assert {"label", "color-contrast", "html-has-lang"} <= rules
        driver.get(f"data:text/html,{quote(GOOD)}")
        assert barriers(driver) == []
