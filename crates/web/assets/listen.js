// Hears that the book has changed, while the page is seen, and has the page look again, one look at a time. What has
// changed is not said. A browser keeps few lines to one app open, so a page that is not seen hangs up.
export function listen(look) {
  let line = null, looking = false, again = false, wasOpen = false;

  async function news() {
    again = true;
    if (looking) return;
    looking = true;
    while (again) {
      again = false;
      // A look that failed is told by the page itself, and the next news brings another.
      try { await look(); } catch { /* told there */ }
    }
    looking = false;
  }

  function seen() {
    if (document.hidden) {
      line?.close();
      line = null;
    } else if (!line) {
      line = new EventSource("/events");
      line.onmessage = news;
      // Nothing is heard while the line is down.
      line.onopen = () => { if (wasOpen) news(); wasOpen = true; };
    }
  }

  document.addEventListener("visibilitychange", seen);
  seen();
}
