"""Somebody at the Desk without a mouse: Tab and the arrows, Enter, Space and typing, and nothing else.

Each stop of the Tab key on the way must be seen (WCAG 2.2, 2.4.7 and 2.4.11): in the window, covered by
nothing, with a ring around it.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Locator, Page, expect

# A form's field is reached in so many presses at most; a longer way has a shorter one (a heading's link).
FAR = 40

# The stop that has the focus: whether it is the target, its label or text, and why it cannot be seen. The
# parts of a date and its calendar's button are one field, and the browser rings that button by itself.
LOOK = """(target) => {
  const stop = document.activeElement;
  const said = { arrived: stop === target, words: "the page itself", unseen: "" };
  if (!stop || stop === document.body) return said;
  said.words = (stop.labels?.[0]?.textContent ?? stop.getAttribute("aria-label") ?? stop.textContent)
    .trim().replace(/\\s+/g, " ").slice(0, 60);
  const box = stop.getBoundingClientRect();
  const middle = document.elementFromPoint(
    Math.min(Math.max(box.left + box.width / 2, 0), innerWidth - 1),
    Math.min(Math.max(box.top + box.height / 2, 0), innerHeight - 1),
  );
  const { outlineStyle, outlineWidth } = getComputedStyle(stop);
  const ringed = outlineStyle !== "none" && parseFloat(outlineWidth) >= 2;
  const covered = middle && !stop.contains(middle) && !middle.contains(stop)
    && ![...(stop.labels ?? [])].some((label) => label.contains(middle));
  if (box.width < 2 || box.bottom <= 0 || box.top >= innerHeight) said.unseen = "out of view";
  else if (!ringed && stop.type !== "date") said.unseen = "without a ring";
  else if (covered) said.unseen = "covered";
  return said;
}"""


class Keys:
    """The keys of a page. Every step waits for what it is about to show, never for a time."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self._files: list[Path] = []
        # From the start: asked for just before the key, it would race with it.
        page.on("filechooser", lambda dialog: dialog.set_files(self._files))

    # --- moving ------------------------------------------------------------------------

    def to(self, target: Locator, most: int = FAR) -> None:
        """Tabs to the target; AssertionError with every stop passed if it is further than ``most``."""
        self._walk("Tab", target, most)

    def back_to(self, target: Locator, most: int = FAR) -> None:
        """Tabs back to the target."""
        self._walk("Shift+Tab", target, most)

    def skip_to_content(self) -> None:
        """The first stop of a page leads past its navigation."""
        self.to(self.page.get_by_role("link", name="To the content"), most=1)
        self.page.keyboard.press("Enter")

    def turn_to(self, name: str) -> None:
        """Tabs back to the navigation at the top of the page, and opens one of its pages."""
        self.back_to(self.page.get_by_role("navigation", name="Counterfoil").get_by_role("link", name=name))
        self.go()

    # --- doing -------------------------------------------------------------------------

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def follow(self, target: Locator, most: int = FAR, key: str = "Enter") -> None:
        """Goes to a link or button and presses it; waits until the next page is whole."""
        self.to(target, most)
        self.go(key)

    def go(self, key: str = "Enter") -> None:
        """Presses what has the focus; waits until the next page is whole."""
        with self.page.expect_navigation(wait_until="load"):
            self.page.keyboard.press(key)

    def write(self, target: Locator, text: str) -> None:
        """Goes to a field and types over what is in it."""
        if not _is_focused(target):
            self.to(target)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)
        expect(target).to_have_value(text)

    def paste(self, target: Locator, text: str) -> None:
        """Goes to a field and pastes what was copied elsewhere; the context must allow the clipboard."""
        if not _is_focused(target):
            self.to(target)
        self.page.evaluate("(text) => navigator.clipboard.writeText(text)", text)
        self.page.keyboard.press("Control+V")

    def choose(self, target: Locator, words: str) -> None:
        """Goes to a list of choices and types until it shows the one that begins with ``words``."""
        if not _is_focused(target):
            self.to(target)
        self.page.keyboard.type(words)
        expect(target.locator("option:checked")).to_contain_text(words)

    def date(self, target: Locator, day: str) -> None:
        """Types an ISO day part by part, as a date field of en-US takes it."""
        if not _is_focused(target):
            self.to(target)
        year, month, day_of_month = day.split("-")
        self.page.keyboard.type(f"{month}{day_of_month}{year}")
        expect(target).to_have_value(day)

    def send_file(self, target: Locator, file: Path) -> None:
        """Opens the browser's own dialog from its field by the Space key, and chooses a file there."""
        if not _is_focused(target):
            self.to(target)
        self._files = [file]
        self.page.keyboard.press("Space")
        self.page.wait_for_function("(field) => field.files.length === 1", arg=target.element_handle())

    # --- the way -----------------------------------------------------------------------

    def _walk(self, key: str, target: Locator, most: int) -> None:
        there = target.element_handle()
        passed: list[str] = []
        for _ in range(most):
            self.page.keyboard.press(key)
            stop = self.page.evaluate(LOOK, there)
            assert not stop["unseen"], f"{stop['unseen']} on {self.page.url}: {stop['words']}"
            if stop["arrived"]:
                return
            passed.append(stop["words"])
        raise AssertionError(f"{most} presses of {key} do not reach {target}, but: " + " | ".join(passed))


def _is_focused(target: Locator) -> bool:
    return target.evaluate("each => each === document.activeElement")
