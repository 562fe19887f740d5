"""The reports for review, each loaded only where it is asked for."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cfgaudit.reports.review import Review

FORMATS = ("sarif", "junit", "github", "markdown")  # of check and diff


def review_text(form: str, review: "Review", fail_on: str) -> str:
    """What is told, as SARIF, JUnit XML (by what fails) or lines for GitHub.

    Markdown is not among them, since check and diff tell other things in it.
    """
    if form == "sarif":
        from cfgaudit.reports.sarif import sarif_text

        return sarif_text(review)
    if form == "junit":
        from cfgaudit.reports.junit import junit_text

        return junit_text(review, fail_on)
    if form == "github":
        from cfgaudit.reports.github import github_text

        return github_text(review)
    raise ValueError(form)
