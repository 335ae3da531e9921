// Runs inside the page under test and leaves what it measured in the document, for the test to read from the dump.
(() => {
  const said = [];
  addEventListener("error", (e) => said.push(String(e.message)));
  addEventListener("securitypolicyviolation", (e) => said.push(`blocked ${e.violatedDirective} ${e.blockedURI}`));
  for (const level of ["error", "warn"]) {
    const held = console[level];
    console[level] = (...words) => { said.push(words.join(" ")); held.apply(console, words); };
  }
  const meets = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;
  const pictures = () => {
    const overlaps = [], outside = [];
    for (const svg of document.querySelectorAll("svg")) {
      const frame = svg.getBoundingClientRect();
      const name = svg.querySelector("title").textContent;
      const texts = [...svg.querySelectorAll("text")].filter((t) => t.textContent).map((t) => [t.textContent, t.getBoundingClientRect()]);
      texts.forEach(([words, box], at) => {
        if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) outside.push(`${name}: ${words}`);
        for (const [other, place] of texts.slice(at + 1)) if (meets(box, place)) overlaps.push(`${name}: ${words} / ${other}`);
      });
    }
    return { overlaps, outside };
  };
  // Anything laid out past the right edge, whatever the page does about it.
  const wide = () => [...document.querySelectorAll("body *")].filter((e) => !e.closest("svg") && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1).map((e) => `${e.tagName} ${e.textContent.slice(0, 40)}`);
  // Whoever loads the page in a frame may ask for its layout at one width after another.
  globalThis.layoutNow = () => ({ width: innerWidth, scroll: document.documentElement.scrollWidth, wide: wide().slice(0, 3), ...pictures() });
  if (parent.sweeping) return;
  const run = async () => {
    const found = {
      width: innerWidth,
      scroll: document.documentElement.scrollWidth,
      wide: wide().slice(0, 5),
      ...pictures(),
      scripts: document.querySelectorAll("script:not([data-measure])").length,
      handlers: [...document.querySelectorAll("*")].filter((e) => [...e.attributes].some((a) => a.name.startsWith("on"))).length,
      foreign: [...document.querySelectorAll("img, iframe, object, embed, link, base, form, foreignObject, audio, video")].map((e) => e.tagName),
      landmarks: ["header", "nav", "main", "footer", "h1"].filter((l) => document.querySelectorAll(l).length !== 1),
      unnamed: [...document.querySelectorAll("svg")].filter((s) => !s.querySelector("title")?.textContent || !s.querySelector("desc")?.textContent || !s.closest(".plate").querySelector("table")).length,
      pictures: document.querySelectorAll("svg").length,
      leaves: [...document.querySelectorAll(".leaf")].map((l) => l.id),
    };
    if (globalThis.axe) {
      const result = await axe.run(document, { resultTypes: ["violations"] });
      found.axe = result.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")}`);
    }
    found.requests = performance.getEntriesByType("resource").map((r) => r.name);
    found.said = said;
    const out = document.createElement("pre");
    out.id = "measured";
    out.textContent = encodeURIComponent(JSON.stringify(found));
    parent.document.body.append(out);
  };
  addEventListener("load", () => run().catch((e) => {
    const out = document.createElement("pre");
    out.id = "measured";
    out.textContent = encodeURIComponent(JSON.stringify({ failed: String(e) }));
    parent.document.body.append(out);
  }));
})();
