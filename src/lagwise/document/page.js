// Opens what is asked for and what is printed, closes the contents of narrow screens, tells where numbers come
// from, copies sentences.
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
const tip = document.getElementById("tip");
const known = JSON.parse(tip.dataset.known);
const sourceOf = (one) => known[one.dataset.s];
let told = null;
const hide = () => { tip.hidden = true; if (told) told.removeAttribute("aria-describedby"); told = null; };
const tell = (one, lines) => {
  if (told === one) return;
  hide();
  tip.replaceChildren(...lines.map((line) => Object.assign(document.createElement("p"), { textContent: line })));
  tip.hidden = false; told = one; one.setAttribute("aria-describedby", "tip");
  const box = one.getBoundingClientRect(), own = tip.getBoundingClientRect();
  const above = box.bottom + own.height > innerHeight && box.top > own.height;
  const left = Math.max(8, Math.min(box.left, document.documentElement.clientWidth - own.width - 8));
  tip.style.left = `${left + scrollX}px`; tip.style.top = `${(above ? box.top - own.height : box.bottom) + scrollY}px`;
};
const hosts = new Set([...document.querySelectorAll("main [data-s]:not(.copy)")].map((one) => one.closest("tr, li, p, caption, figcaption")));
hosts.delete(null);
const lines = (host) => {
  const found = new Map();
  for (const one of host.querySelectorAll("[data-s]:not(.copy)"))
    found.set(sourceOf(one), [...(found.get(sourceOf(one)) || []), one.textContent]);
  return [...found].map(([source, numbers]) => `${numbers.join("; ")}: ${source}`);
};
document.addEventListener("mouseover", (event) => {
  const one = event.target.closest("[data-s]");
  if (one) tell(one, [sourceOf(one)]); else if (!tip.contains(event.target)) hide();
});
document.addEventListener("focusin", (event) => {
  if (event.target.matches(".copy")) tell(event.target, [sourceOf(event.target)]);
  else if (event.target.hasAttribute("tabindex") && hosts.has(event.target)) tell(event.target, lines(event.target));
});
document.addEventListener("focusout", hide);
document.addEventListener("keydown", (event) => { if (event.key === "Escape") hide(); });
const asked = document.querySelector("button.sources");
if (asked) asked.addEventListener("click", () => {
  const on = document.body.classList.toggle("sourced");
  asked.setAttribute("aria-pressed", on);
  for (const host of hosts) if (on) host.tabIndex = 0; else host.removeAttribute("tabindex");
});
for (const button of document.querySelectorAll("button.copy")) {
  button.addEventListener("click", async () => {
    const said = button.parentElement.cloneNode(true);
    for (const extra of said.querySelectorAll("button")) extra.remove();
    const text = `${said.textContent.trim().replace(/\s+/g, " ")} [${sourceOf(button)}]`;
    try { await navigator.clipboard.writeText(text); }
    catch {
      const area = Object.assign(document.createElement("textarea"), { value: text });
      document.body.append(area); area.select(); document.execCommand("copy"); area.remove();
    }
    button.classList.add("done");
  });
}
if (location.hash) reveal(location.hash.slice(1));
