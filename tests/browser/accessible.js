// Put at the head of a copy of the page, after the checker: runs it over the opened page, and leaves what
// it found in an element of its own, with the scheme the page was shown in.
addEventListener("load", async () => {
  for (const fold of document.querySelectorAll("details")) fold.open = true;
  const found = await axe.run(document);
  const told = {
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    passes: found.passes.length,
    violations: found.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 5).map(n => n.html.slice(0, 160)).join(" | ")),
  };
  const out = document.createElement("pre");
  out.id = "accessible";
  out.textContent = JSON.stringify(told).replace(/[<>&]/g, c => "\\u" + c.charCodeAt(0).toString(16).padStart(4, "0"));
  document.body.append(out);
});
