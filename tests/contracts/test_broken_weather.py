"""Broken weather files: each is refused with a message that says what is wrong and, where it lies in a row, its line."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest

from soakbook.errors import InputError
from soakbook.weather.read import read_weather

HEAD = "date,tmax,tmin,rain\n2024-07-01,25,14,0\n"
TMY3 = (
    '722780,"EXAMPLE",AZ,-7.0,33.450,-111.983,337\n'
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),Dew-point (C),RHum (%),Pressure (mbar),Wspd (m/s)\n"
    "01/01/2002,01:00,0,10.0,5.6,74,977,1.5\n"
)
EPW = (
    "LOCATION,Example,-,XXX,made up,0,51.5,-0.1,0.0,25.0\n" + "X,0\n" * 7
    + "2005,7,1,1,60,A7,12.5,8.0,74,101300,0,0,300,250,0,0,0,0,0,0,180,4.0,5,5\n"
)  # fmt: skip
USCRN = (Path(__file__).parent.parent / "data" / "weather" / "uscrn_austin_2015_60_days.txt").read_text()
METEO = {
    "latitude": 52.5, "longitude": 13.4, "utc_offset_seconds": 0, "timezone": "GMT", "elevation": 38.0,
    "daily_units": {"time": "iso8601", "temperature_2m_max": "°C", "temperature_2m_min": "°C"},
    "daily": {"time": ["2024-07-01", "2024-07-02"], "temperature_2m_max": [25, 26], "temperature_2m_min": [14, 15]},
}  # fmt: skip


def meteo(**daily: object) -> str:
    return json.dumps({**METEO, "daily": {**METEO["daily"], **daily}})  # type: ignore[dict-item]


def grid(time: object = "2024-07-01T00:00:00+00:00/PT1H", value: object = 20.0, uom: object = "wmoUnit:degC") -> str:
    layer = {"uom": uom, "values": [{"validTime": time, "value": value}]}
    return json.dumps({"id": "https://api.weather.gov/gridpoints/X/1,1", "properties": {"temperature": layer}})


#: name: (file text, what the message must hold)
BROKEN: dict[str, tuple[str, str]] = {
    "empty": ("", "is empty"),
    "blank lines": ("\n\n  \n", "is empty"),
    "a letter": ("Dear gardener,\nit rained a lot.\n", "no line names a date and a weather column"),
    "no heading": ("2024-07-01,25,14,0\n2024-07-02,26,15,1\n", "no line names"),
    "heading only": ("date,tmax,tmin\n", "no rows below the heading in line 1"),
    "only rain": ("date,rain\n2024-07-01,3\n", "t_max_c is not among the columns"),
    "only a mean": ("date,tmean,rain\n2024-07-01,20,3\n", "t_max_c is not among the columns"),
    "temperature all missing": ("date,tmax,tmin\n2024-07-01,NA,NA\n", "t_max_c has no values"),
    "word for a number": (HEAD + "2024-07-02,warm,15,1\n", "line 3: 'tmax' is 'warm'"),
    "two numbers in a cell": (HEAD + "2024-07-02,25 26,15,1\n", "line 3: 'tmax'"),
    "hexadecimal": (HEAD + "2024-07-02,0x1F,15,1\n", "line 3: 'tmax'"),
    "infinity": (HEAD + "2024-07-02,inf,15,1\n", "line 3: 'tmax' is 'inf'"),
    "row too short": (HEAD + "2024-07-02,25,14\n", "line 3 has 3 cells where the heading has 4"),
    "row too long": (HEAD + "2024-07-02,25,14,0,7\n", "line 3 has 5 cells"),
    "decimal comma among commas": (HEAD + "2024-07-02,25,5,14,0,0,0\n", "line 3 has 7 cells"),
    "no such day": (HEAD + "2024-02-30,25,14,0\n", "line 3: 'date' is '2024-02-30'"),
    "no date": (HEAD + "yesterday,25,14,0\n", "line 3: 'date' is 'yesterday'"),
    "date missing": (HEAD + ",25,14,0\n", "line 3: 'date' is ''"),
    "a footer": (HEAD + "Total,,,0\n", "line 3: 'date' is 'Total'"),
    "day and month mixed": (
        "date,tmax,tmin\n25/12/2023,5,1\n12/26/2023,5,1\n",
        "line 2 has the day first and line 3 the month first",
    ),
    "day or month": ("date,tmax,tmin\n03/04/2024,15,5\n", "line 2: 'date' is '03/04/2024', which may be day-month"),
    "year far off": (HEAD + "3024-07-02,25,14,0\n", "at most 55000 are read"),
    "no clock": ("time,temp\n2024-07-01 25:00,20\n", "line 2: 'time'"),
    "hours without zone": ("time,temp\n2024-07-01 01:00,20\n2024-07-01 02:00,20\n", "no time zone"),
    "every third hour": (
        "time utc,temp\n2024-07-01 00:00,20\n2024-07-01 03:00,20\n2024-07-01 06:00,20\n",
        "rows are 3 hours apart",
    ),
    "month 13": ("year,month,day,tmax,tmin\n2024,13,1,25,14\n", "line 2: 'month' is '13'"),
    "month without day": ("year,month,tmax,tmin\n2024,7,25,14\n", "do not make a date"),
    "latitude of 95": ("# latitude: 95\n" + HEAD, "latitude must be between -90 and 90"),
    "flag of 9": ("date,t_max_c,t_min_c,t_max_c_flag\n2024-07-01,25,14,9\n", "line 2: 't_max_c_flag' is '9'"),
    "kind unknown": ("date,t_max_c,t_min_c,kind\n2024-07-01,25,14,dreamt\n", "line 2: 'kind' is 'dreamt'"),
    "TMY3 row too short": (TMY3 + "01/01/2002,02:00,0,8.9\n", "line 4 has 4 cells"),
    "TMY3 hour 25": (TMY3 + "01/01/2002,25:00,0,8.9,5,74,977,1\n", "line 4"),
    "TMY3 word": (TMY3 + "01/01/2002,02:00,0,cold,5,74,977,1\n", "line 4: 'Dry-bulb (C)' is 'cold'"),
    "TMY3 without offset": (TMY3.replace("-7.0", "west"), "line 1: 'UTC offset'"),
    "TMY3 without hours": ("\n".join(TMY3.splitlines()[:2]) + "\n", "2 lines"),
    "EPW row too short": (EPW + "2005,7,1,2,60\n", "line 10 has 5 fields"),
    "EPW hour 0": (EPW.replace("2005,7,1,1,", "2005,7,1,0,"), "line 9"),
    "EPW offset of 77": (EPW.replace(",0.0,25.0", ",77,25.0"), "time zone"),
    "EPW without hours": ("\n".join(EPW.splitlines()[:8]), "8 heading lines"),
    "USCRN row too short": (USCRN + "23907 20150302  2.423  -98.08\n", "line 61 has 4 fields"),
    "USCRN date": (USCRN.replace("20150103", "20150199"), "line 3: LST_DATE is '20150199'"),
    "USCRN two stations": (USCRN + USCRN.splitlines()[0].replace("23907", "23908") + "\n", "2 stations"),
    "JSON cut short": (meteo()[:150], "line 1: not whole JSON"),
    "JSON of something else": (json.dumps({"latitude": 1, "daily": 7}), "neither hourly.time nor daily.time"),
    "JSON error answer": (json.dumps({"error": True, "latitude": 1, "daily": {}}), "answered with an error"),
    "JSON lengths differ": (meteo(temperature_2m_max=[25]), "daily.temperature_2m_max has 1 values for 2 times"),
    "JSON word": (meteo(temperature_2m_max=[25, "warm"]), "daily.temperature_2m_max[1] is 'warm'"),
    "JSON time": (meteo(time=["2024-07-01", "soon"]), "daily.time[1] is 'soon'"),
    "JSON all null": (meteo(temperature_2m_min=[None, None]), "daily.temperature_2m_min has no values"),
    "JSON unit": (json.dumps({**METEO, "daily_units": {"temperature_2m_max": "apples"}}), "a unit that fits"),
    "JSON zone": (json.dumps({**METEO, "timezone": "Mars/Olympus"}), "Mars/Olympus"),
    "NWS interval": (grid(time="2024-07-01T00:00:00+00:00"), "properties.temperature.values[0].validTime"),
    "NWS no zone": (grid(time="2024-07-01T00:00:00/PT1H"), "validTime"),
    "NWS endless": (grid(time="2024-07-01T00:00:00+00:00/P900D"), "lasts 21600 hours"),
    "NWS unit": (grid(uom="wmoUnit:furlong"), "properties.temperature.uom"),
    "NWS word": (grid(value="warm"), "properties.temperature.values[0].value is 'warm'"),
    "NWS null": (grid(value=None), "the layer temperature is empty"),
}


@pytest.mark.parametrize(("text", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_broken_file(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_weather(path)
    error = caught.value
    assert says in error.message
    assert "weather.csv" in error.message
    assert error.exit_code == 2
    assert error.code.startswith("weather.")


def test_files_that_are_no_text(tmp_path: Path) -> None:
    for name, data, says in (
        ("a.csv", b"PK\x03\x04\x00\x00\x00\x00", "not text"),
        ("b.csv.gz", gzip.compress(b"date,tmax,tmin\n" * 50)[:40], "no whole gzip file"),
        ("c.csv", b"\xff\xfe\x00", "no line names"),
    ):
        path = tmp_path / name
        path.write_bytes(data)
        with pytest.raises(InputError, match=says):
            read_weather(path)


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError, match="cannot be read"):
            read_weather(path)


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "bomb.gz"
    with gzip.open(path, "wb", compresslevel=9) as file:
        for _ in range(90):
            file.write(bytes(1_000_000))
    with pytest.raises(InputError, match="unpacks to more than 80 MB"):
        read_weather(path)


def test_a_bomb_in_a_later_part_is_not_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gzip file may have several parts one after another; only the first is harmless here."""
    import tracemalloc

    from soakbook.weather import read

    monkeypatch.setattr(read, "MOST_BYTES", 1_000_000)
    path = tmp_path / "parts.gz"
    path.write_bytes(gzip.compress(b"date,tmax,tmin\n") + gzip.compress(bytes(60_000_000)))
    tracemalloc.start()
    with pytest.raises(InputError, match="unpacks to more than 1 MB"):
        read_weather(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20_000_000
