"""The pages in a real browser: what families and staff press, what they then see, and that nobody is shut out."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from followup.services.sign_in import Role
from followup.services.work_callbacks import see_queue
from tests.web.a_practice import PASSWORD, PracticeAtWork, open_practice

WIDTHS = (320, 768, 1440)


@pytest.fixture
def rooms(migrated_file: Path, tmp_path: Path) -> Iterator[PracticeAtWork]:
    """A practice with one wearer, on the morning of the first day."""
    database = Path(shutil.copy(migrated_file, tmp_path / "followup.db"))
    opened = open_practice(database)
    opened.start()
    opened.staff()
    opened.staff("bettany", Role.DESK)
    yield opened
    opened.app.close()


@pytest.fixture
def address(rooms: PracticeAtWork, serve: Callable[[Any], str]) -> str:
    return serve(rooms.site)


@pytest.fixture
def plain(browser: Browser) -> Iterator[Page]:
    """A narrow page with scripts off."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 320, "height": 640}, locale="en-GB")
    yield context.new_page()
    context.close()


def press(page: Page, words: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=words).first.click()


def sign_in(page: Page, address: str, user: str = "runa") -> None:
    page.goto(f"{address}/sign-in")
    page.get_by_label("Name for signing in").fill(user)
    page.get_by_label("Password").fill(PASSWORD)
    press(page, "Sign in")


def report_broken_skin(rooms: PracticeAtWork) -> None:
    path = rooms.link(1)
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")


def test_no_problem_takes_three_taps_without_scripts(rooms: PracticeAtWork, address: str, plain: Page) -> None:
    plain.goto(address + rooms.link(1))
    press(plain, "Skin looked at, no problem")
    press(plain, "None of these")
    press(plain, "None of these")
    assert plain.get_by_role("heading", level=1).inner_text() == "Thank you. Keep to the times."


def test_a_mark_is_asked_one_question_a_screen_until_the_answer(
    rooms: PracticeAtWork, address: str, plain: Page
) -> None:
    rooms.clock.set("2026-05-11 10:40")
    plain.goto(address + rooms.link(1))
    press(plain, "There is a mark")
    press(plain, "None of these")
    press(plain, "None of these")
    press(plain, "Longer, or it is still there")
    plain.get_by_text("Outer side", exact=True).click()
    plain.get_by_label("The ankle bone on the outer side").check()
    press(plain, "Go on")
    press(plain, "As planned, 30 minutes")
    assert (
        "Leave it off until we speak. A clinician rings you today" in plain.get_by_role("heading", level=1).inner_text()
    )
    assert see_queue(rooms.practice, rooms.clock())[0].wearer_name == "Aldo Torvenn"


def test_the_place_that_is_chosen_is_filled_in_the_picture(rooms: PracticeAtWork, address: str, page: Page) -> None:
    rooms.clock.set("2026-05-11 10:40")
    page.goto(address + rooms.link(1))
    for words in ("There is a mark", "None of these", "None of these", "Longer"):
        press(page, words)
    calf = page.locator(".leg-back .r-calf")
    assert calf.evaluate("path => getComputedStyle(path).fillOpacity") == "0"
    page.locator("details:has(#place-calf) summary").click()
    page.get_by_label("The calf").check()
    assert calf.evaluate("path => getComputedStyle(path).fillOpacity") == "0.3"
    assert page.locator(".leg.left").count() == 5


def test_the_desk_logs_a_call_with_the_keyboard_alone(rooms: PracticeAtWork, address: str, page: Page) -> None:
    sign_in(page, address, "bettany")
    page.goto(f"{address}/phone-log")
    page.get_by_role("searchbox").focus()
    page.keyboard.type("aldo")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    press(page, "Aldo Torvenn")
    page.get_by_label("None of these").focus()
    page.keyboard.press("Space")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.get_by_label("Maj Torvenn, child").focus()
    page.keyboard.press("Space")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "second question" in page.locator(".when").first.inner_text()
    with page.expect_navigation():
        page.get_by_role("button", name="The call ended here").click()
    assert page.get_by_text("The call has ended. Say this when you reach them").is_visible()


def test_a_clinician_closes_a_call_and_the_family_reads_the_new_plan(
    rooms: PracticeAtWork, address: str, page: Page
) -> None:
    report_broken_skin(rooms)
    sign_in(page, address)
    press(page, "Take this call")
    page.get_by_label("Spoken to").check()
    page.get_by_label("Begin again from the first step").check()
    page.get_by_label("From which day").fill("2026-05-12")
    page.get_by_label("What was said and agreed").fill("The heel was not seated; shown how.")
    press(page, "Write it down and close")
    assert page.get_by_role("heading", level=1).inner_text() == "Nobody to ring"
    rooms.clock.set("2026-05-12 08:00")
    page.goto(address + rooms.link(1))
    assert page.get_by_role("heading", level=1).inner_text() == "Today, 30 minutes"


def test_a_fault_leads_to_its_field(rooms: PracticeAtWork, address: str, page: Page) -> None:
    report_broken_skin(rooms)
    sign_in(page, address)
    page.goto(f"{address}/callbacks/1")
    press(page, "Write it down and close")
    page.get_by_role("link", name="Write in a sentence or two what was said and agreed").click()
    assert page.locator("#note").evaluate("field => field === document.activeElement || location.hash === '#note'")


STAFF = (
    *("/sign-in", "/callbacks", "/callbacks/1", "/desk", "/phone-log", "/phone-log/2", "/phone-log/3"),
    *("/phone-log/2/caller", "/callbacks/2"),
    *("/phone-log/urgent", "/deliveries/new", "/deliveries/2/checks", "/wearers", "/wearers/1"),
)


@pytest.fixture
def story(rooms: PracticeAtWork) -> PracticeAtWork:
    """A broken skin reported, one call open and one ended, and a second orthosis whose checks wait."""
    report_broken_skin(rooms)
    rooms.sign_in()
    rooms.send("/phone-log", orthosis="1")
    rooms.send("/phone-log", orthosis="unknown", text="A daughter, 01632 960777")
    rooms.send("/phone-log/3", do="hung_up")
    second = {"wearer_reference": "B-1", "wearer_name": "Edda Sol", "identifier": "K-2"}
    waiting = rooms.deliver(**second, contact1_address="edda@example.org", contact1_channel="email")
    rooms.check(waiting, insole="none was in the shoe")
    return rooms


def family_pages(rooms: PracticeAtWork) -> dict[str, str]:
    third = {"wearer_reference": "C-1", "wearer_name": "Ines Vale", "identifier": "K-3"}
    running = rooms.link(rooms.start(**third, contact1_address="ines@example.org", contact1_language="es"))
    report = rooms.press(f"{running}/look", look="clear").url.path
    return {
        "today": running,
        "off": rooms.link(1),
        "gate": report,
        "which": f"{report}?which=body",
        "answer": f"{rooms.link(1)}/r/1",
        "none-yet": rooms.link(2),
        "bad-link": "/c/nonsense",
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_fits_every_width_and_shuts_nobody_out(
    story: PracticeAtWork,
    address: str,
    browser: Browser,
    axe: Callable[[Page], list[str]],
    tmp_path: Path,
    scheme: Any,
) -> None:
    context = browser.new_context(color_scheme=scheme, locale="en-GB", viewport={"width": 1440, "height": 900})
    page = context.new_page()
    found: list[str] = []
    for name, path in family_pages(story).items():
        found += faults(page, axe, address + path, tmp_path / f"{name}-{scheme}")
    sign_in(page, address)
    for path in STAFF:
        name = path.strip("/").replace("/", "-").partition("?")[0]
        found += faults(page, axe, address + path, tmp_path / f"staff-{name}-{scheme}")
    context.close()
    assert found == []


def faults(page: Page, axe: Callable[[Page], list[str]], address: str, picture: Path) -> list[str]:
    """What is wrong with one page at each width: too wide, refused by the browser, or shutting somebody out."""
    found: list[str] = []
    page.goto(address)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        wide = page.evaluate("document.documentElement.scrollWidth")
        found += [f"{address} at {width}: {wide} wide"] if wide > width else []
        page.screenshot(path=f"{picture}-{width}.png", full_page=True)
        found += [f"{address} at {width}: {each}" for each in axe(page)] if width != 768 else []
    return found


def test_no_page_breaks_the_content_policy(story: PracticeAtWork, address: str, page: Page) -> None:
    refused: list[str] = []
    page.on("console", lambda message: refused.append(message.text) if "Content Security" in message.text else None)
    sign_in(page, address)
    for path in (*family_pages(story).values(), *STAFF):
        page.goto(address + path)
    assert refused == []


def test_at_twice_the_size_nothing_scrolls_sideways(story: PracticeAtWork, address: str, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 720, "height": 450}, device_scale_factor=2)
    page = context.new_page()
    sign_in(page, address)
    wide = []
    for path in (*family_pages(story).values(), *STAFF):
        page.goto(address + path)
        if page.evaluate("document.documentElement.scrollWidth") > 720:
            wide.append(path)
    context.close()
    assert wide == []
