"""What a reader does before the page has read the details of the cores."""

from tests.browser.browser import open_page
from tests.browser.town import STREET, saved, view

# the fourth packed element, the details, is read only when the test says so
_WITHHELD = """
(() => {
  const Real = DecompressionStream;
  let made = 0;
  const released = new Promise((done) => { window.release = done; });
  window.DecompressionStream = function (kind) {
    made += 1;
    const real = new Real(kind);
    if (made < 4) return real;
    const getReader = () => {
      const reader = real.readable.getReader();
      return { read: async () => { await released; return reader.read(); } };
    };
    return { writable: real.writable, readable: { getReader } };
  };
})();
"""


def test_the_first_screen_is_there_before_the_details_and_what_is_clicked_meanwhile_is_carried_out(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        page.page.add_init_script(_WITHHELD)
        page.page.reload()
        page.wait_for("performance.getEntriesByName('all-usable').length > 0")
        assert page.text("[data-answer=open] .figure") == "3"
        assert page.ask("document.querySelector('#legend .count[data-status=flagged]').textContent") == "2"
        assert page.ask("document.getElementById('progress').hidden")
        # the map moves meanwhile
        page.ask("void map_kerfbook.panBy([50, 0], { animate: false })")
        page.page.click("[data-answer=open] a.main")
        assert "state=" not in page.ask("window.location.hash")
        assert not page.ask("document.getElementById('progress').hidden")
        page.page.fill("#query", "C-3")
        x, y = page.ask(
            f"(() => {{ const p = map_kerfbook.latLngToContainerPoint([{STREET}, -82.001]);"
            "const b = map_kerfbook.getContainer().getBoundingClientRect(); return [p.x + b.x, p.y + b.y]; })()"
        )
        page.page.mouse.click(x, y)
        assert not page.ask("Boolean(document.querySelector('.core-popup'))")
        assert page.ask("performance.getEntriesByName('all-read').length") == 0
        page.ask("void window.release()")
        page.wait_for("document.querySelectorAll('#list-rows button').length === 3")
        page.wait_for("document.querySelector('.core-popup .row-id, .core-popup h2')?.textContent.includes('C-2')")
        assert page.ask("kerfbook.filter.total") == 3
        assert "C-3" in page.text("#results")
        assert page.ask("document.getElementById('progress').hidden")
        assert page.complaints == []


def test_an_address_that_names_a_core_opens_it_once_the_details_are_read(tmp_path):
    with open_page(saved(tmp_path, view()), fragment="#core=C-3") as page:
        page.page.add_init_script(_WITHHELD)
        page.page.reload()
        page.wait_for("typeof window.release === 'function'")
        page.page.wait_for_timeout(300)
        assert page.ask("performance.getEntriesByName('all-usable').length") == 0
        page.ask("void window.release()")
        page.wait_for("document.querySelector('.core-popup h2')?.textContent.includes('C-3')")
        assert page.complaints == []
