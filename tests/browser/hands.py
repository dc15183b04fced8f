"""Two ways to work a page: with a mouse, and with the keys alone."""

from __future__ import annotations

from playwright.sync_api import FileChooser, Locator, Page

POINTER_IS_TOLD = """
for (const kind of ["pointerdown", "mousedown", "touchstart"])
  addEventListener(kind, () => console.error(`not by keys: ${kind}`), true);
"""

DROPPED = """([name, mimeType, text]) => {
  const dropped = new DataTransfer();
  dropped.items.add(new File([text], name, {type: mimeType}));
  return dropped;
}"""

FOCUSED = "element => element === document.activeElement"

MOST_STEPS = 400


class Mouse:
    """Points at what it wants and clicks it."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, control: Locator) -> None:
        control.click()

    def write(self, field: Locator, text: str) -> None:
        field.click(click_count=3)
        self.page.keyboard.type(text)

    def choose(self, field: Locator, option: str) -> None:
        """Choose from a list; Chromium draws the open list outside of the page."""
        field.select_option(option)

    def give(self, name: str, kind: str, text: str) -> None:
        """Drop a file on the place for drawings."""
        dropped = self.page.evaluate_handle(DROPPED, [name, kind, text])
        self.page.locator(".drop").first.dispatch_event("drop", {"dataTransfer": dropped})


class Keys:
    """Reaches everything by Tab and works it by Enter, Space, arrows and letters."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.add_init_script(POINTER_IS_TOLD)

    def reach(self, control: Locator) -> None:
        """Go on by Tab until the control has the focus, or back if it stands earlier."""
        control.wait_for(state="attached")
        follows = control.evaluate(
            "element => Boolean(document.activeElement.compareDocumentPosition(element) & 4)"
        )
        for _ in range(MOST_STEPS):
            if control.evaluate(FOCUSED):
                return
            self.page.keyboard.press("Tab" if follows else "Shift+Tab")
        raise AssertionError(f"the keys do not reach {control}")

    def press(self, control: Locator) -> None:
        self.reach(control)
        self.page.keyboard.press("Enter")

    def write(self, field: Locator, text: str) -> None:
        self.reach(field)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)
        self.page.keyboard.press("Tab")

    def choose(self, field: Locator, option: str) -> None:
        self.reach(field)
        self.page.keyboard.type(option)

    def give(self, name: str, kind: str, text: str) -> None:
        """Choose a file where files are chosen."""
        self.reach(self.page.get_by_label("Choose files"))
        with self.page.expect_file_chooser() as asked:
            # A key takes another way into Chromium than the wish to be told of choosers, and on
            # a busy machine it can be there first. An answer from the page shows the wish came.
            self.page.evaluate("true")
            self.page.keyboard.press("Space")
        chooser: FileChooser = asked.value
        chooser.set_files([{"name": name, "mimeType": kind, "buffer": text.encode()}])  # type: ignore[list-item]


Hands = Mouse | Keys
