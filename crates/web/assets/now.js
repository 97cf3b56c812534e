// Looks again when the book has news, and each half minute, and never lets an old reading pass for a new one. What is due
// takes longer to work out and changes slowly: it is asked for with the page, and each ten minutes.
const every = 30000;
const rarely = 600000;
let whole = Date.now();

async function look() {
  if (document.hidden) return;
  const here = document.getElementById("now");
  const all = !here.dataset.latest || Date.now() - whole > rarely;
  try {
    const address = all ? location.href : here.dataset.latest + location.search;
    const answer = await fetch(address, { headers: { accept: "text/html" } });
    if (!answer.ok) throw new Error(answer.statusText);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const news = page.getElementById("now");
    // Another page came: this device was put out, or the book is another.
    if (!news) throw new Error("not this moment");
    const due = document.getElementById("due")?.parentElement;
    news.querySelector("[data-due]")?.replaceWith(...(due ? [due] : []));
    document.getElementById("now").replaceWith(document.adoptNode(news));
    document.getElementById("unreached")?.remove();
    if (all) whole = Date.now();
  } catch {
    notLive();
  }
}

// Whatever is shown was so when it came; from now on nothing is known.
function notLive() {
  const now = document.getElementById("now");
  now.classList.add("old", "unreached");
  if (document.getElementById("unreached")) return;
  const said = document.createElement("p");
  said.id = "unreached";
  said.className = "lead";
  said.setAttribute("role", "status");
  const at = new Date().toTimeString().slice(0, 5);
  said.textContent = (now.dataset.unreached ?? "").replace("{clock}", at);
  now.before(said);
}

setInterval(look, every);
document.addEventListener("visibilitychange", look);
for (const change of ["online", "offline"]) addEventListener(change, look);
import("/assets/listen.js").then(({ listen }) => listen(look)).catch(() => { /* the half minutes remain */ });
