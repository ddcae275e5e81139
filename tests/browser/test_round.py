"""A round on a phone, as a person does it."""

from __future__ import annotations

import json
import re
from urllib.parse import quote

from playwright.sync_api import Browser, Page, expect

from soakbook.advice.job import Job
from soakbook.app.reader import Reader
from soakbook.app.round_view import amount_fields
from soakbook.demo import DAY
from tests.browser.accessible import faults_in_themes
from tests.browser.conftest import PHONE, Running, of_verdict


def soaks(demo: Running) -> list[Job]:
    """Jobs that ask for water, the largest first."""
    return of_verdict(demo, "soak")


def today(demo: Running) -> list[str]:
    """Amounts written down on the demo's day, in order."""
    return [e.amount for e in demo.house.store.entries(demo.key) if e.at[:10] == str(DAY)]


def test_tick_and_undo(demo: Running, phone: Page) -> None:
    job = soaks(demo)[0]
    name, (number, unit) = job.advice.place, amount_fields(job, Reader())
    phone.goto(demo.url)
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Round for Sat 8 Jul")
    phone.get_by_role("button", name=f"done: {name}").tap()
    expect(phone.get_by_role("status").filter(has_text=f"{name} got")).to_be_visible()
    assert today(demo) == [f"{number} {unit}"]
    expect(phone.locator(".job.is-done", has_text=name)).to_be_visible()
    phone.get_by_role("status").get_by_role("button", name="Undo").tap()
    expect(phone.get_by_role("button", name=f"done: {name}")).to_be_visible()
    phone.get_by_role("button", name="Put it back").tap()
    expect(phone.locator(".job.is-done", has_text=name)).to_be_visible()


def test_another_amount(demo: Running, phone: Page) -> None:
    """Half of what is asked for leaves the other half."""
    job = soaks(demo)[0]
    name, (number, unit) = job.advice.place, amount_fields(job, Reader())
    phone.goto(demo.url)
    row = phone.locator(".job", has_text=name)
    before = row.locator(".amount").inner_text()
    row.get_by_text("Why; another amount").tap()
    row.get_by_role("textbox", name="How much").fill(f"{float(number) / 2:g}")
    row.get_by_role("button", name="Done with this amount").tap()
    expect(phone.get_by_role("status").filter(has_text=f"{name} got")).to_be_visible()
    assert today(demo) == [f"{float(number) / 2:g} {unit}"]
    expect(phone.locator(".job.soak", has_text=name).locator(".amount")).not_to_have_text(before)


def test_probe_first_turns_into_soak_or_hold(to_probe: Running, phone: Page) -> None:
    phone.goto(to_probe.url)
    probe = phone.locator(".job.probe").first
    name = probe.locator("h3").inner_text()
    probe.get_by_role("button", name="wet").tap()
    expect(phone.get_by_role("status").filter(has_text=f"{name} felt wet")).to_be_visible()
    expect(phone.locator(".job.probe").filter(has_text=name)).to_have_count(0)
    assert re.fullmatch(r"wet at \d+ cm", today(to_probe)[0])  # as deep as was asked


def test_two_people_do_not_water_twice(demo: Running, phone: Page, chromium: Browser) -> None:
    name = soaks(demo)[0].advice.place
    demo.house.store.rename_person("owner", "Bea")
    phone.goto(demo.url)
    other = chromium.new_context(viewport=PHONE).new_page()  # type: ignore[arg-type]
    other.goto(demo.url)
    phone.get_by_role("button", name=f"done: {name}").tap()
    expect(phone.locator(".job.is-done", has_text=name)).to_contain_text("Bea")
    other.get_by_role("button", name=f"done: {name}").click()
    expect(other.get_by_role("heading", level=1)).to_have_text(f"{name} was watered already today")
    assert len(today(demo)) == 1
    other.get_by_role("button", name="I watered it too").click()
    assert len(today(demo)) == 2
    other.context.close()


def test_the_same_tick_sent_twice_counts_once(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    form = phone.locator(".job", has_text=soaks(demo)[0].advice.place).locator("form.act")
    body = {name: form.locator(f"input[name={name}]").input_value() for name in ("place", "id", "seen")}
    body |= {"number": "2", "unit": "L"}
    for _ in range(2):
        assert phone.request.post(f"{demo.url}/g/{demo.key}/done", form=body).ok
    assert len(today(demo)) == 1


def test_touch_targets_and_accessibility(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    for control in phone.locator("button:visible, .ways a:visible, summary:visible, .job h3 a:visible").all():
        box = control.bounding_box()
        assert box is not None
        assert box["height"] >= 43.5, control.inner_text()
        assert box["width"] >= 43.5, control.inner_text()
    assert faults_in_themes(phone) == []


def test_keyboard_only(demo: Running, desk: Page) -> None:
    desk.goto(demo.url)
    desk.keyboard.press("Tab")
    expect(desk.get_by_role("link", name="To the page's content")).to_be_focused()
    name = soaks(demo)[-1].advice.place
    tick = desk.get_by_role("button", name=f"done: {name}")
    for _ in range(150):
        desk.keyboard.press("Tab")
        if tick.evaluate("e => e === document.activeElement"):
            break
    expect(tick).to_be_focused()
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("status").filter(has_text=f"{name} got")).to_be_visible()


def test_without_script(demo: Running, chromium: Browser) -> None:
    name = soaks(demo)[-1].advice.place
    page = chromium.new_context(viewport=PHONE, java_script_enabled=False).new_page()  # type: ignore[arg-type]
    page.goto(demo.url)
    page.get_by_role("button", name=f"done: {name}").click()
    expect(page.get_by_role("status").filter(has_text=f"{name} got")).to_be_visible()
    page.locator("figure.chart summary").click()
    expect(page.locator("figure.chart table")).to_be_visible()
    page.context.close()


def test_zoomed_to_twice_and_narrow_nothing_runs_off(demo: Running, desk: Page) -> None:
    for width in (640, 320):  # 1280 at 200 %, and the narrowest of WCAG 1.4.10
        desk.set_viewport_size({"width": width, "height": 512})
        desk.goto(demo.url)
        assert desk.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_in_gallons_inches_and_twelve_hours(demo: Running, phone: Page) -> None:
    """3.785411784 L to a US gallon (NIST Handbook 44, Appendix C; from memory), said to two figures; what is typed is kept."""
    chosen = {"units": "US", "clock": "12", "dates": "mdy"}
    phone.context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(chosen)), "url": demo.url}])
    job = soaks(demo)[0]
    name, litres = job.advice.place, float(f"{job.advice.litres:.2g}")
    phone.goto(demo.url)
    expect(phone.get_by_role("heading", level=1)).to_have_text("Round for Sat Jul 8")
    row = phone.locator(".job", has_text=name)
    expect(row).to_contain_text(re.compile(rf"{litres / 3.785411784:.0f} gal"))
    row.get_by_text("Why; another amount").tap()
    row.get_by_role("combobox").select_option("gal")
    row.get_by_role("textbox", name="How much").fill("5")
    row.get_by_role("button", name="Done with this amount").tap()
    expect(phone.get_by_role("status").filter(has_text=f"{name} got 5 gal")).to_be_visible()
    assert demo.house.store.entries(demo.key)[-1].amount == "5 gal"
    expect(phone.locator("main")).to_contain_text(re.compile(r"\d{1,2}:\d\d [ap]m"))
