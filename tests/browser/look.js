// Looks at one finished page in a real browser and leaves what it found in <pre id="found"> for --dump-dom.
// What the checker (axe-core) covers, it tells; the rest is what no checker can know of this theme.
(async () => {
  const found = [];
  const say = (rule, what) => found.push({ rule, what: String(what).slice(0, 300) });
  const name = (e) => `${e.tagName.toLowerCase()}${e.id ? "#" + e.id : ""}${e.className && e.className.baseVal === undefined ? "." + e.className : ""} “${(e.textContent || "").trim().slice(0, 40)}”`;
  await document.fonts.ready;

  // Reflow (WCAG 1.4.10): nothing is wider than the window.
  if (document.scrollingElement.scrollWidth > innerWidth + 1) say("reflow", `${document.scrollingElement.scrollWidth} px in ${innerWidth}`);

  // Headings go down one level at a time (1.3.1), and there is one of the first.
  let level = 0;
  const heads = [...document.querySelectorAll("h1,h2,h3,h4,h5,h6")].filter((e) => e.checkVisibility());
  for (const e of heads) {
    const here = Number(e.tagName[1]);
    if (here > level + 1) say("heading order", `${name(e)} after level ${level}`);
    level = here;
  }
  if (heads.filter((e) => e.tagName === "H1").length !== 1) say("one h1", heads.map(name).join("; "));

  // Landmarks: one each of header, main and footer; every navigation has a name.
  for (const tag of ["header", "main", "footer"]) {
    const count = [...document.querySelectorAll(tag)].filter((e) => !e.parentElement.closest("main, section, article")).length;
    if (count !== 1) say("landmark", `${count} ${tag}`);
  }
  for (const e of document.querySelectorAll("nav")) if (!e.getAttribute("aria-label")) say("landmark name", name(e));

  // Focus: the way past the head comes first; the order is that of the page; what has the focus is seen (2.4.3, 2.4.11).
  const stops = [...document.querySelectorAll("a[href], button, input, select, textarea, [tabindex]")].filter((e) => e.checkVisibility());
  if (!stops[0] || !stops[0].classList.contains("skip")) say("skip link", stops[0] ? name(stops[0]) : "nothing");
  else if (!document.querySelector(stops[0].getAttribute("href"))) say("skip link", "leads nowhere");
  for (const e of document.querySelectorAll("[tabindex]")) if (e.tabIndex > 0) say("tab order", name(e));
  for (const e of stops) {
    e.focus();
    if (document.activeElement !== e) { say("focus", `${name(e)} takes none`); continue; }
    const box = e.getClientRects()[0];
    // Of a box larger than the window that part counts which lies in it.
    const x = (Math.max(box.left, 0) + Math.min(box.right, innerWidth)) / 2;
    const y = (Math.max(box.top, 0) + Math.min(box.bottom, innerHeight)) / 2;
    const on = document.elementFromPoint(x, y);
    if (!on) say("focus seen", `${name(e)} lies outside, at ${Math.round(x)}, ${Math.round(y)}`);
    else if (on !== e && !e.contains(on) && !on.contains(e)) say("focus seen", `${name(e)} lies under ${name(on)}`);
    const style = getComputedStyle(e);
    if (e.matches(":focus-visible") && (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2)) say("focus ring", name(e));
  }
  document.activeElement.blur();

  // Where one is stays in view: deep inside a long requirement its title still stands at the top.
  for (const section of document.querySelectorAll("section.requirement")) {
    if (section.offsetHeight < innerHeight * 1.5) continue;
    const title = section.querySelector("h2, h3, h4");
    scrollTo(0, section.getBoundingClientRect().top + scrollY + section.offsetHeight / 2);
    const box = title.getBoundingClientRect();
    const on = document.elementFromPoint(box.left + 20, box.top + 8);
    if (box.top < 0 || box.top > innerHeight / 4 || !on || !(title.contains(on) || on.contains(title))) say("where am I", name(title));
    found.looked = (found.looked || 0) + 1;
  }
  const line = document.querySelector(".sticky");
  scrollTo(0, document.scrollingElement.scrollHeight / 2);
  if (!line || Math.abs(line.getBoundingClientRect().top) > 1 && scrollY > line.offsetTop) say("where am I", "the line with the chapter does not stay");
  scrollTo(0, 0);

  let checker = "";
  if (window.axe) {
    const answer = await axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
    checker = `${axe.version}, ${answer.passes.length} rules passed`;
    for (const rule of answer.violations) for (const node of rule.nodes) say(rule.id, `${node.target.join(" ")}: ${node.failureSummary}`);
  }
  const out = document.createElement("pre");
  out.id = "found";
  out.textContent = JSON.stringify({ found, checker, stops: stops.length, titles: found.looked || 0 });
  document.body.append(out);
})();
