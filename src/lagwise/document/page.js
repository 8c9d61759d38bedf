// Opens what is asked for and what is printed, closes the contents of narrow screens, copies sentences.
"use strict";
const opened = [];
const reveal = (id) => {
  const aim = id && document.getElementById(decodeURIComponent(id));
  for (let at = aim; at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
  const own = aim && aim.closest("summary");
  if (own) own.parentElement.open = true;
  if (aim) aim.scrollIntoView();
};
window.addEventListener("hashchange", () => reveal(location.hash.slice(1)));
document.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#"]');
  if (link) reveal(link.getAttribute("href").slice(1));
});
window.addEventListener("beforeprint", () => {
  for (const one of document.querySelectorAll("details:not([open])")) { one.open = true; opened.push(one); }
});
window.addEventListener("afterprint", () => { while (opened.length) opened.pop().open = false; });
const list = document.querySelector(".contents details");
if (list && matchMedia("(max-width: 66rem)").matches) list.open = false;
for (const button of document.querySelectorAll("button.copy")) {
  button.addEventListener("click", async () => {
    const said = button.parentElement.cloneNode(true);
    for (const extra of said.querySelectorAll("button, .tip")) extra.remove();
    const text = `${said.textContent.trim().replace(/\s+/g, " ")} [${button.dataset.source}]`;
    try { await navigator.clipboard.writeText(text); }
    catch {
      const area = Object.assign(document.createElement("textarea"), { value: text });
      document.body.append(area); area.select(); document.execCommand("copy"); area.remove();
    }
    button.classList.add("done");
  });
}
if (location.hash) reveal(location.hash.slice(1));
