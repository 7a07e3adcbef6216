"""Entering orders in a browser, for the tests of the office's pages."""

import base64

from playwright.sync_api import expect

from shopfloor.orders.models import Order


def new_order(desk, *paths, customer="Harrow Lane Gates"):
    """Enters the head with its files, as far as the page of the order being entered; gives the order."""
    desk.open()
    desk.click("Enter an order")
    desk.page.get_by_label("Customer", exact=True).fill(customer)
    desk.page.get_by_label("Due").first.fill("2031-03-04")
    desk.page.locator("#files").set_input_files([str(path) for path in paths])
    desk.click("Read the drawings")
    expect(desk.page.locator("article.file")).to_have_count(len(paths))
    return Order.objects.latest("pk")


def card(desk, name):
    """The card of a file by its name."""
    return desk.page.locator("article.file").filter(has=desk.page.get_by_role("heading", name=name, exact=True))


def fill(line, label, value):
    """Types a value and leaves the field."""
    field = line.get_by_label(label)
    field.fill(value)
    field.press("Tab")


def fill_all(desk, material, thickness):
    """Material and thickness for all lines that lack them."""
    desk.page.locator("#fm").select_option(label=material)
    desk.page.locator("#ft").fill(thickness)
    desk.click("Fill in")


def drop(page, selector, name, content):
    """Lets a file fall on the box, as a browser does when it is dragged there."""
    data = page.evaluate_handle(
        """([name, content]) => {
            const bytes = Uint8Array.from(atob(content), (each) => each.charCodeAt(0));
            const data = new DataTransfer();
            data.items.add(new File([bytes], name));
            return data;
        }""",
        [name, base64.b64encode(content).decode()],
    )
    page.dispatch_event(selector, "drop", {"dataTransfer": data})
