"""Every link of every page leads somewhere, whatever the language and the measures."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from urllib.parse import quote, urljoin, urlsplit

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.settings import Settings
from soakbook.demo import DAY

MOST = 400
#: Pages of one sort, which differ in an id, a number or what is asked for, that are looked at.
OF_A_SORT = 3
ROOT = "http://localhost:8765"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = build_app(Settings(tmp_path_factory.mktemp("app"), today=DAY, demo=True))
    bring_demo(app.state.house.desk)
    with TestClient(app, base_url=ROOT, client=("127.0.0.1", 50000)) as client:
        yield client
    app.state.house.store.close()


def sort_of(path: str) -> str:
    """An address without ids, numbers and what is asked for."""
    return re.sub(r"=[^&]*|(?<=/)[0-9a-f]{8}(?=/|$|[?])|\d+", "", path)


@pytest.mark.parametrize(
    "chosen", [{"language": "en", "units": "metric"}, {"language": "es", "units": "US", "clock": "12", "dates": "ymd", "decimal": ","}]
)  # fmt: skip
def test_no_link_is_dead(client: TestClient, chosen: dict[str, str]) -> None:
    client.cookies.set("soakbook_reader", quote(json.dumps(chosen)))
    seen, ahead = set(), ["/", "/ask?where=Lyon&plant=tomato", "/gardens", "/people"]
    sorts: Counter[str] = Counter()
    while ahead and len(seen) < MOST:
        path = ahead.pop(0)
        if path in seen or sorts[sort_of(path)] >= OF_A_SORT:
            continue
        seen.add(path)
        sorts[sort_of(path)] += 1
        answer = client.get(path, headers={"accept": "text/html"})
        assert answer.status_code == 200, (path, answer.status_code, answer.text[-600:])
        if "text/html" not in answer.headers["content-type"]:
            continue
        words = re.sub(r"<[^>]+>", " ", answer.text)
        assert not re.search(r"\bNone\b(?! of|\.)", words), path
        for link in re.findall(r'<a[^>]+href="([^"#]+)', answer.text):
            whole = urlsplit(urljoin(str(answer.url), link.replace("&amp;", "&")))
            if whole.netloc == urlsplit(ROOT).netloc:
                ahead.append(whole.path + (f"?{whole.query}" if whole.query else ""))
    assert len(seen) > 60
