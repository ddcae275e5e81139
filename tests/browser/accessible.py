"""What axe (axe-core, WCAG rules for machines) finds on a page: only what is wrong, since all that is right takes twice as long to tell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

#: Rules that depend on colours, and on the size of letters and buttons: what a theme can change. The others look at the page's parts,
#: which are the same in every theme.
BY_THEME = ("color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable")
#: What WCAG 2.2 AA asks of pages.
WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
THEMES = ("light", "dark", "sun")
_RUN = "o => axe.run(o).then(r => r.violations.map(v => [v.id, ...v.nodes.slice(0, 3).map(n => n.html.slice(0, 300))].join(' ')))"


def faults(page: Page, theme: str = "light", *, tags: Sequence[str] = ()) -> list[str]:
    """Rules that are broken, each with the first parts that break it: those of these tags, else of axe's own choice; of a page seen in
    the light theme elsewhere, in the others only those that a theme can break."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE_SCRIPT)
    options: dict[str, Any] = {"resultTypes": ["violations"]}
    if theme != "light":
        options["runOnly"] = {"type": "rule", "values": list(BY_THEME)}
    elif tags:
        options["runOnly"] = {"type": "tag", "values": list(tags)}
    found: list[str] = page.evaluate(_RUN, options)
    return found


def faults_in_themes(page: Page, *, tags: Sequence[str] = ()) -> list[str]:
    """The same in one theme after the other."""
    found = []
    for theme in THEMES:
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        found += [f"{theme}: {one}" for one in faults(page, theme, tags=tags)]
    return found
