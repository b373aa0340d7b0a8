"""How the searching tests run: the same examples every time, unless a search is asked for.

`python -m tests --hypothesis-profile searching` draws new examples, and more of them. What it finds
becomes an `@example` of its test.

What a test counted (`record_property("counted", ...)`) is told at the end of the run.
"""

from hypothesis import HealthCheck, settings

settings.register_profile("steady", derandomize=True, database=None, deadline=None)
settings.register_profile(
    "searching",
    deadline=None,
    database=None,
    max_examples=1000,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")


def pytest_terminal_summary(terminalreporter):
    counted = [
        told
        for reports in terminalreporter.stats.values()
        for report in reports
        for name, told in getattr(report, "user_properties", ())
        if name == "counted" and report.when == "call"
    ]
    if counted:
        terminalreporter.section("counted")
        for told in sorted(counted):
            terminalreporter.write_line(told)
