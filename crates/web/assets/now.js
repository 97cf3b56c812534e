// Looks for news each half minute, and never lets an old reading pass for a new one.
const every = 30000;
const old = 15 * 60;

async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (!answer.ok) throw new Error(answer.statusText);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const news = page.getElementById("now");
    if (news) document.getElementById("now").replaceWith(document.adoptNode(news));
  } catch {
    const now = document.getElementById("now");
    const read = Number(now.dataset.read);
    if (Date.now() / 1000 - read > old) now.classList.add("old");
  }
}

setInterval(look, every);
document.addEventListener("visibilitychange", look);
