from __future__ import annotations

import subprocess
import sys


def test_importing_the_room_loads_nothing_heavy() -> None:
    code = "import sys, logger.show; print(sorted({'plotly', 'rich', 'pandas', 'numpy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_pages_and_summaries_load_their_libraries_only_when_used() -> None:
    modules = (
        "pages.report_page, logger.show.pages.overlay_page, logger.show.terminal.summary, "
        "logger.show.terminal.overlay_summary, logger.show.terminal.recordings_table, "
        "logger.show.plain_data.json_line"
    )
    heavy = "sorted({'plotly', 'rich'} & set(sys.modules))"
    code = f"import sys, logger.show.{modules}; print({heavy})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
