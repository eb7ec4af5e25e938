"""What axe-core finds on a page that is worth a failed test."""

from axe_playwright_python.sync_playwright import Axe

SERIOUS = ("serious", "critical")


def serious(page):
    """Serious violations with the first of their places."""
    result = Axe().run(page).response
    assert len(result["passes"]) > 10, "axe has looked at the page"
    return [
        (item["id"], item["nodes"][0]["html"][:160], item["nodes"][0].get("failureSummary", "")[:300])
        for item in result["violations"]
        if item["impact"] in SERIOUS
    ]
