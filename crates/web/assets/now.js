// Looks again when the book has news, and each half minute, and never lets an old reading pass for a new one.
const every = 30000;

async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (!answer.ok) throw new Error(answer.statusText);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const news = page.getElementById("now");
    // Another page came: this device was put out, or the book is another.
    if (!news) throw new Error("not this moment");
    document.getElementById("now").replaceWith(document.adoptNode(news));
    document.getElementById("unreached")?.remove();
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
  said.textContent = `Not connected since ${at}: the app cannot be reached, and nothing below is live.`;
  now.before(said);
}

setInterval(look, every);
import("/assets/listen.js").then(({ listen }) => listen(look)).catch(() => { /* the half minutes remain */ });
document.addEventListener("visibilitychange", look);
for (const change of ["online", "offline"]) addEventListener(change, look);
