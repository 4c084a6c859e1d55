from __future__ import annotations

import subprocess
import sys

from followup.storage.engine import is_current, open_store

MIGRATE = "import sys; from followup.storage.engine import migrate, open_store; migrate(open_store(sys.argv[1]))"


def test_processes_that_start_together_on_an_empty_database_all_start(empty_store_url):
    started = [subprocess.Popen([sys.executable, "-c", MIGRATE, empty_store_url]) for _ in range(3)]
    assert [each.wait(timeout=60) for each in started] == [0, 0, 0]
    store = open_store(empty_store_url)
    assert is_current(store)
    store.close()
