"""A newcomer's first answer, by hand."""

from __future__ import annotations

import time

from playwright.sync_api import Page, expect

from tests.browser.accessible import faults
from tests.browser.conftest import Running


def no_fault(page: Page) -> None:
    assert faults(page) == []


def test_a_first_answer_in_under_a_minute_and_one_press_keeps_it(empty: Running, phone: Page) -> None:
    begun = time.monotonic()
    phone.goto(f"{empty.url}/")
    no_fault(phone)
    expect(phone.locator("#here")).to_be_visible()
    phone.get_by_label("Town, or latitude and longitude").press_sequentially("lyo")
    expect(phone.locator("#towns option").first).to_have_attribute("value", "Lyon, France")
    phone.get_by_label("Town, or latitude and longitude").fill("Lyon, France")
    phone.get_by_label("Plant, by any common name").fill("tomato")
    expect(phone.locator("#today")).to_contain_text("Today")
    expect(phone.locator("#ask-peek")).to_be_visible()
    assert time.monotonic() - begun < 60.0
    phone.evaluate("document.querySelector('#answer').setAttribute('aria-busy', 'true')")
    no_fault(phone)
    phone.evaluate("document.querySelector('#answer').removeAttribute('aria-busy')")
    no_fault(phone)
    phone.locator("#ask-peek").click()
    expect(phone.locator(".chart[data-chart=months] .chart-plot svg").first).to_be_visible()
    phone.get_by_role("button", name="Keep it as a garden").click()
    expect(phone).to_have_url(f"{empty.url}/g/{empty.house.store.gardens()[0].key}/")
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Round for")


def test_the_answer_follows_each_change(empty: Running, desk: Page) -> None:
    desk.goto(f"{empty.url}/ask?where=Lyon&plant=tomato&day=2017-05-20&count=6&units=metric")
    usual = desk.locator(".usual")
    expect(desk.locator(".chart[data-chart=months] .chart-plot svg").first).to_be_visible()
    expect(usual).to_contain_text("in cans of 10 L")
    desk.get_by_label("Your can holds").fill("5")
    expect(usual).to_contain_text("in cans of 5 L")
    desk.get_by_label("Pot or other container").check()
    expect(desk.get_by_label("Length")).to_be_hidden()
    expect(usual).to_contain_text("each time")
    desk.get_by_label("One pot holds").fill("lots")
    expect(desk.locator("#answer")).to_contain_text("lots")
    desk.get_by_label("Your can holds").focus()
    desk.get_by_label("Your can holds").fill("6")
    expect(desk.locator("#f-pot")).to_have_attribute("aria-invalid", "true")
    desk.get_by_label("One pot holds").fill("20")
    expect(usual).to_contain_text("in cans of 6 L")
    desk.reload()
    expect(desk.get_by_label("One pot holds")).to_have_value("20")
    expect(usual).to_contain_text("in cans of 6 L")


def test_the_soil_by_feel_in_pictures(empty: Running, desk: Page) -> None:
    desk.goto(f"{empty.url}/ask?where=Lyon&plant=tomato&day=2017-05-20&units=metric")
    expect(desk.locator(".chart[data-chart=months] .chart-plot svg").first).to_be_visible()
    desk.get_by_label("By feel, in three small tests").check()
    expect(desk.locator("#answer")).to_contain_text("feel test")
    desk.get_by_label("Yes, it is a ball").check()
    desk.get_by_label("Shorter than 2.5 cm").check()
    desk.get_by_label("Clearly gritty").check()
    expect(desk.locator("#today")).to_be_visible()
    no_fault(desk)
