"""A skipped test is a silent pass: every skip has to be named here with its reason."""

import pytest

# Node id, as pytest prints it, to the reason why the test cannot be run everywhere.
ACCEPTED_SKIPS: dict[str, str] = {
    "tests/desk/test_page.py": "wants a Chromium: a user's machine may have none, CI installs it",
}


def unnamed_skips(config: pytest.Config) -> list[str]:
    """The node ids of the tests, or files, that were skipped without leave."""
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    return [report.nodeid for report in skipped if report.nodeid not in ACCEPTED_SKIPS]


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run that would otherwise have passed over a skipped test."""
    if unnamed_skips(session.config):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name the skips, above the closing line."""
    for nodeid in unnamed_skips(terminalreporter.config):
        terminalreporter.write_line(f"SKIPPED WITHOUT LEAVE {nodeid} (see tests/conftest.py)")
