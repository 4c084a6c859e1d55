"""Mail scanners and previews open links first: a GET writes nothing that matters, whatever page it is."""

from __future__ import annotations

from sqlalchemy import select
from starlette.routing import Route

from followup.storage.tables import metadata
from tests.web.a_practice import PracticeAtWork

MAY_GROW = {"audit"}


def everything(rooms: PracticeAtWork) -> dict[str, list[tuple[object, ...]]]:
    with rooms.practice.store.read() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(select(table))]
            for table in metadata.sorted_tables
            if table.name not in MAY_GROW
        }


def test_opening_every_page_changes_nothing(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.press(f"{path}/look", look="broken")
    rooms.sign_in()
    rooms.send("/phone-log", orthosis="1")
    before = everything(rooms)
    opened = [rooms.client.get(address).status_code for address in addresses(rooms, path.split("/")[-1])]
    assert len(opened) >= 14
    assert set(opened) <= {200, 404}
    assert everything(rooms) == before


def addresses(rooms: PracticeAtWork, token: str) -> list[str]:
    """Every page with a GET, with ids that exist."""
    ids = {"{token}": token, "{report_id:int}": "1", "{callback_id:int}": "1", "{orthosis_id:int}": "1"}
    found = []
    for route in rooms.site.routes:
        if isinstance(route, Route) and "GET" in (route.methods or set()):
            address = route.path
            for name, value in ids.items():
                address = address.replace(name, value)
            found.append(address)
    return [*found, "/phone-log/2?change=body", f"/c/{token}/r/1?which=body"]


def test_a_page_that_only_takes_forms_says_so(rooms: PracticeAtWork) -> None:
    assert rooms.client.get("/sign-out").status_code == 405
