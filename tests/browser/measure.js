// Put at the head of a copy of the page: gathers what goes wrong and hands it to the page around.
// Stands inside the page itself, so the word that ends a script is never written whole here.
(() => {
  const trouble = [];
  const call = name => (...words) => { trouble.push(name + ": " + words.join(" ")); };
  console.error = call("console error");
  for (const name of ["alert", "confirm", "prompt"]) window[name] = call(name + " ran");
  addEventListener("error", event => trouble.push("error: " + (event.message || event.target.outerHTML)), true);
  addEventListener("securitypolicyviolation", event => trouble.push("refused: " + event.blockedURI));

  const words = element => element.textContent.trim().slice(0, 40);
  const named = element => element.tagName.toLowerCase() + "." + element.getAttribute("class") + " '" + words(element) + "'";

  function widths() {
    const sheet = document.documentElement;
    if (sheet.scrollWidth > sheet.clientWidth) {
      trouble.push("scrolls sideways: " + sheet.scrollWidth + " in " + sheet.clientWidth);
    }
    for (const element of document.body.querySelectorAll("*")) {
      // A wide table may scroll in a box of its own; the link past the head stands off the page until used.
      if (element.closest(".scroll > *, .skip")) continue;
      const box = element.getBoundingClientRect();
      if (box.width && (box.left < -0.5 || box.right > sheet.clientWidth + 0.5)) {
        trouble.push("beyond the page: " + named(element) + " " + box.left + " to " + box.right);
      }
    }
  }

  function chart(svg) {
    const sheet = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll("text")].map(text => ({ text, box: text.getBoundingClientRect() }));
    let smallest = Infinity;
    texts.forEach(({ text, box }, i) => {
      const scale = Math.abs(text.getScreenCTM().d);
      smallest = Math.min(smallest, parseFloat(getComputedStyle(text).fontSize) * scale);
      if (box.left < sheet.left - 1 || box.right > sheet.right + 1 || box.top < sheet.top - 1 || box.bottom > sheet.bottom + 1) {
        trouble.push("beyond its chart: '" + words(text) + "'");
      }
      for (const other of texts.slice(i + 1)) {
        // A text's box holds its font's whole height, so that letters part well before boxes do.
        const across = Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left);
        const down = Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top);
        if (across > 1 && down > 2.5) {
          trouble.push("one over the other: '" + words(text) + "' and '" + words(other.text) + "' by " + across + " x " + down);
        }
      }
    });
    return { count: texts.length, smallest };
  }

  addEventListener("load", () => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
    widths();
    const charts = [...document.querySelectorAll("svg.chart")].map(chart);
    const result = {
      page: document.documentElement.dataset.page,
      width: innerWidth,
      trouble,
      charts: charts.length,
      texts: charts.reduce((sum, c) => sum + c.count, 0),
      smallest: Math.min(1000, ...charts.map(c => c.smallest)),
      fetched: performance.getEntriesByType("resource").map(r => r.name),
      scripts: document.scripts.length,
      hostile: document.body.textContent.split("<script>alert(1)<" + "/script>").length - 1,
    };
    parent.gather(result);
  });
})();
