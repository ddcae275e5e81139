"""The figures behind the advice and a weather file looked at, by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.accessible import faults
from tests.browser.conftest import Running

TUCSON = Path(__file__).parents[1] / "data" / "weather" / "uscrn_tucson_2020_40_days.csv"


def no_fault(page: Page) -> None:
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_plant_is_searched_and_asked_about(empty: Running, phone: Page) -> None:
    phone.goto(f"{empty.url}/about")
    phone.locator(".foot").get_by_role("link", name="plants").click()
    no_fault(phone)
    phone.get_by_label("Name, as you call it").fill("cherry tom")
    expect(phone.locator("#plants")).to_contain_text("1 plant:")
    phone.get_by_role("link", name="Tomato, tall").click()
    expect(phone.locator(".figures")).to_contain_text("how deep roots go once it is grown")
    no_fault(phone)
    phone.get_by_role("link", name="How much water does mine need?").click()
    expect(phone.get_by_label("Plant, by any common name")).to_have_value("Tomato, tall")


@pytest.mark.parametrize(
    "path",
    [
        "/soils",
        "/soils/mix/coir",
        "/soils/find?way=feel&feel=ball",
        "/soils/find?way=jar&jar.sand=4&jar.silt=3&jar.clay=1",
    ],
)
def test_the_soils(empty: Running, phone: Page, path: str) -> None:
    phone.goto(f"{empty.url}{path}")
    no_fault(phone)


def test_a_weather_file_stays_chosen_for_its_demand(empty: Running, phone: Page) -> None:
    phone.goto(f"{empty.url}/weather-file")
    phone.get_by_label("Weather file").set_input_files(TUCSON)
    phone.get_by_label("Latitude, degrees north").fill("north")
    phone.get_by_role("button", name="Look at it").click()
    expect(phone.locator("#f-lat-wrong")).to_be_visible()
    no_fault(phone)
    phone.get_by_label("Weather file").set_input_files(TUCSON)
    phone.get_by_label("Latitude, degrees north").fill("32.24")
    phone.get_by_label("Longitude, degrees east").fill("-111.17")
    phone.get_by_role("button", name="Look at it").click()
    expect(phone.locator("#made")).to_contain_text("40 days from")
    no_fault(phone)
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Demand as CSV").click()
    assert Path(download.value.path()).read_text(encoding="utf-8").startswith("date,eto_mm,flags\n2020-01-01,")
