"""What axe-core finds wrong with a page, by WCAG 2.2 AA and its own best practices."""

from __future__ import annotations

from playwright.sync_api import Page

from tests.served import ROOT

_AXE = ROOT / ".tools" / "node_modules" / "axe-core" / "axe.min.js"


def violations(page: Page) -> list[str]:
    """Each with where it is, on the page as it stands.

    Its context must bypass the page's own policy: axe is a script that the page would not allow."""
    # A form that was sent a moment ago may have its answer only begun.
    page.wait_for_load_state()
    page.add_script_tag(path=_AXE)
    return page.evaluate(
        """async () => (await axe.run(document, {resultTypes: ["violations"]})).violations.map(
            ({id, nodes}) => `${id}: ${nodes.map((node) => node.html).join(" ")}`)"""
    )
