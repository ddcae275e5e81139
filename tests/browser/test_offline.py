"""Without signal: the round and places open, what is written down waits on the phone and is sent once."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, Running, of_verdict, running


def until(check: Callable[[], bool], what: str, seconds: float = 20) -> None:
    end = time.monotonic() + seconds
    while not check():
        assert time.monotonic() < end, what
        time.sleep(0.1)


def made_ready(page: Page, url: str) -> None:
    """Looked at the round once with signal, and all its places were put by."""
    page.goto(url)
    places = page.locator(".job h3 a").count()
    until(lambda: page.evaluate("navigator.serviceWorker.controller !== null"), "the worker took over")
    kept = "caches.open('pages').then(c => c.keys()).then(k => k.filter(r => r.url.includes('/place/')).length)"
    until(lambda: page.evaluate(kept) >= places, "all places were put by")


def test_round_and_places_open_without_signal(demo: Running, phone: Page) -> None:
    """The first and the last place with a job, and those that are fine, which wait under a line of their own."""
    made_ready(phone, demo.url)
    names = phone.locator(".job h3 a").all_text_contents()
    phone.context.set_offline(True)
    phone.goto(f"{demo.url}/")
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Round for")
    for name in (names[0], names[len(names) // 2], names[-1]):
        phone.goto(f"{demo.url}/g/{demo.key}/")
        phone.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        phone.get_by_role("link", name=name, exact=True).tap()
        expect(phone.get_by_role("heading", level=1)).to_contain_text(name)
    phone.goto(f"{demo.url}/people")
    expect(phone.get_by_role("heading", level=1)).to_have_text("No signal")


def test_what_is_written_without_signal_is_sent_once(to_probe: Running, phone: Page) -> None:
    soak, probe = (of_verdict(to_probe, verdict)[0].advice.place for verdict in ("soak", "probe first"))
    store, key = to_probe.house.store, to_probe.key
    made_ready(phone, to_probe.url)
    before = len(store.entries(key))
    phone.context.set_offline(True)
    phone.get_by_role("button", name=f"done: {soak}").tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 1")
    phone.get_by_role("button", name=re.compile(f"^moist.*{probe}")).tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 2")
    assert len(store.entries(key)) == before
    phone.context.set_offline(False)
    phone.goto(to_probe.url)
    until(lambda: len(store.entries(key)) == before + 2, "both were sent")
    phone.goto(to_probe.url)
    expect(phone.locator(".job.is-done", has_text=soak)).to_be_visible()
    expect(phone.locator("#stale")).to_be_hidden()
    phone.evaluate("navigator.serviceWorker.controller.postMessage({type: 'send'})")
    time.sleep(0.5)
    new = store.entries(key)[before:]
    assert sorted(e.kind for e in new) == ["reading", "water"]


def test_a_reading_of_any_kind_is_written_down_without_signal(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    pots = next(p["id"] for p in demo.house.store.document(demo.key)["places"] if p["name"] == "patio tomatoes")
    form = f"/g/{demo.key}/log/new?kind=reading"
    until(lambda: phone.evaluate(f"caches.match('{form}').then(Boolean)"), "the form was put by")
    phone.context.set_offline(True)
    phone.goto(f"{demo.url}{form}&place={pots}")
    expect(phone.get_by_label("Place", exact=True)).to_have_value(pots)
    expect(phone.get_by_label("What one pot weighed")).to_be_hidden()
    phone.get_by_text("A weighed pot").tap()
    phone.get_by_label("What one pot weighed").fill("12,4")
    phone.get_by_role("button", name="Write it down").tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 1")
    phone.context.set_offline(False)
    phone.goto(demo.url)
    until(lambda: any(e.amount == "weight 12.4 kg" for e in demo.house.store.entries(demo.key)), "it was sent")
    (entry,) = (e for e in demo.house.store.entries(demo.key) if e.amount == "weight 12.4 kg")
    assert entry.place_id == pots


def test_taken_back_without_signal(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    phone.get_by_role("button", name="done: basil in clay").tap()
    expect(phone.locator(".job.is-done", has_text="basil in clay")).to_be_visible()
    phone.context.set_offline(True)
    phone.locator(".job.is-done", has_text="basil in clay").get_by_role("button", name="Undo").tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 1")
    phone.context.set_offline(False)
    phone.goto(demo.url)
    until(lambda: not any(e.at[:10] == "2017-07-08" for e in demo.house.store.entries(demo.key)), "taken back")


def test_a_refused_entry_stays_and_says_why(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    phone.context.set_offline(True)
    corn = phone.locator(".job", has_text="sweet corn block")
    corn.get_by_text("Why; another amount").tap()
    corn.get_by_role("textbox", name="How much").fill("many")
    corn.get_by_role("button", name="Done with this amount").tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 1")
    phone.context.set_offline(False)
    phone.goto(demo.url)
    expect(phone.locator("#stale")).to_contain_text("Not taken:")
    expect(phone.locator("#stale")).to_contain_text("many")
    phone.get_by_role("button", name="Leave it out").tap()
    expect(phone.locator("#stale")).to_be_hidden()


def test_a_server_that_goes_away_and_comes_back(tmp_path: Path, chromium: Browser) -> None:
    """The same from the other side: the machine with the app is off for a while."""
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    page = context.new_page()
    with running(tmp_path) as app:
        port = int(app.url.rsplit(":", 1)[1])
        made_ready(page, app.url)
    page.get_by_role("button", name="done: carrot rows").tap()
    expect(page.locator("#stale")).to_contain_text("not yet sent: 1")
    with running(tmp_path, port=port) as app:
        page.goto(app.url)
        until(lambda: app.house.store.entries(app.key)[-1].at[:10] == "2017-07-08", "sent")
    context.close()


def test_the_page_says_how_old_it_is(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    phone.context.set_offline(True)
    phone.add_init_script("{ const now = Date.now; Date.now = () => now() + 3 * 3600e3; }")
    phone.goto(demo.url)
    expect(phone.locator("#stale")).to_contain_text("These figures are from")


def test_it_can_be_put_on_the_home_screen(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    found = phone.request.get(f"{demo.url}/manifest.webmanifest").json()
    assert found["start_url"] == "/"
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in found["icons"]}
    for icon in found["icons"]:
        assert phone.request.get(demo.url + icon["src"]).ok


def test_what_is_written_on_a_places_page_waits_too(demo: Running, phone: Page) -> None:
    """A second entry from the same kept page has an id of its own."""
    made_ready(phone, demo.url)
    place = phone.get_by_role("link", name="carrot rows", exact=True).get_attribute("href")
    before = {e.id for e in demo.house.store.entries(demo.key)}
    phone.context.set_offline(True)
    for text in ("a first look", "a second look"):
        phone.goto(f"{demo.url}{place}")
        phone.locator("details.writes > summary").tap()
        note = phone.get_by_role("form", name="Note")
        note.locator("textarea").fill(text)
        note.get_by_role("button").last.tap()
        expect(phone.get_by_role("heading", level=1)).to_contain_text("carrot rows")
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 2")
    phone.context.set_offline(False)
    phone.goto(demo.url)
    until(lambda: len(demo.house.store.entries(demo.key)) == len(before) + 2, "both were sent")
    assert {e.text for e in demo.house.store.entries(demo.key) if e.id not in before} == {
        "a first look",
        "a second look",
    }


def test_the_forms_of_a_kept_page_leave_the_time_to_when_they_are_sent(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    place = phone.get_by_role("link", name="carrot rows", exact=True).get_attribute("href")
    phone.context.set_offline(True)
    phone.add_init_script("{ const now = Date.now; Date.now = () => now() + 30 * 3600e3; }")
    phone.goto(f"{demo.url}{place}")
    form = phone.locator('form[aria-label="Water"]')
    until(lambda: form.locator('input[name="on"]').get_attribute("max") is None, "today may be chosen, a day later")
    assert [form.locator(f'input[name="{name}"]').input_value() for name in ("on", "at")] == ["", ""]


COUNT_KEPT = """
window.kept = 0;
const post = ServiceWorker.prototype.postMessage;
ServiceWorker.prototype.postMessage = function (message, ...more) {
  if (message.type === "keep") window.kept += 1;
  return post.call(this, message, ...more);
};
"""


def test_places_are_put_by_again_only_when_the_round_has_changed(demo: Running, phone: Page) -> None:
    phone.add_init_script(COUNT_KEPT)
    made_ready(phone, demo.url)

    def stays_as_it_is(later_s: int) -> None:
        phone.goto(demo.url)
        phone.evaluate("navigator.serviceWorker.ready")
        time.sleep(0.4)
        assert phone.evaluate("window.kept") == 0
        if later_s:
            phone.add_init_script(f"{{ const now = Date.now; Date.now = () => now() + {later_s}e3; }}")

    def is_kept_anew(why: str) -> None:
        phone.goto(demo.url)
        until(lambda: phone.evaluate("window.kept") == 1, why)

    stays_as_it_is(0)  # nothing has changed
    phone.get_by_role("button", name="done: carrot rows").tap()
    expect(phone.locator(".job.is-done", has_text="carrot rows")).to_be_visible()
    stays_as_it_is(90)  # not again at once
    is_kept_anew("the round is another, and some time has passed")
    stays_as_it_is(0)
    phone.evaluate("caches.delete('pages')")
    is_kept_anew("they are gone")


def test_pages_go_when_one_signs_out(demo: Running, phone: Page) -> None:
    """Those too that the worker is still putting by, asked for before: they do not come back."""
    made_ready(phone, demo.url)
    paths = [f"/g/{demo.key}/log/new?kind={kind}" for kind in ("reading", "water", "rain", "note")] * 5
    phone.evaluate("paths => navigator.serviceWorker.controller.postMessage({type: 'keep', paths})", paths)
    phone.goto(f"{demo.url}/sign-in")
    until(lambda: phone.evaluate("caches.has('pages').then(there => !there)"), "the pages were forgotten")
    time.sleep(0.5)
    assert phone.evaluate("caches.has('pages')") is False
    phone.context.set_offline(True)
    phone.goto(f"{demo.url}/g/{demo.key}/")
    expect(phone.get_by_role("heading", level=1)).to_have_text("No signal")


def test_a_part_of_the_log_does_not_stand_in_for_the_log(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    phone.goto(f"{demo.url}/g/{demo.key}/log")
    phone.goto(f"{demo.url}/g/{demo.key}/log?words=nothing-has-these-words")
    whole = "caches.open('pages').then(c => c.match(location.pathname)).then(a => a.text()).then(t => t.includes('nothing-has'))"
    time.sleep(0.3)
    assert phone.evaluate(whole) is False


def test_a_page_kept_from_before_an_update_has_its_style(demo: Running, phone: Page) -> None:
    made_ready(phone, demo.url)
    old = f"{demo.url}/static/0123456789/style.css"
    phone.context.set_offline(True)
    assert phone.evaluate(f"fetch('{old}').then(a => a.text()).then(t => t.length)") > 1000
